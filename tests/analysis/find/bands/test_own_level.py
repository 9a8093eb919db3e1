"""How much an engine's level does of its own, told by all hills of a drive together."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from analysis.find.bands.own_level import OWN_DB, chances, in_drive


def log_likelihood(rng: np.random.Generator, own_db: float, hills: int) -> np.ndarray:
    """What four values drawn from a normal distribution of ``own_db`` say of each of OWN_DB."""
    values = own_db * rng.normal(size=(hills, 4, 1))
    each = -0.5 * (values / np.array(OWN_DB)) ** 2 - np.log(OWN_DB)
    return np.asarray(each.sum(axis=1))


@pytest.mark.parametrize("own_db", OWN_DB)
def test_many_hills_tell_what_one_leaves_open(own_db: float) -> None:
    likely = log_likelihood(np.random.default_rng(3), own_db, 40)
    share = in_drive(likely)
    assert share.sum() == pytest.approx(1.0)
    assert OWN_DB[int(share.argmax())] == own_db
    alone = chances(likely, np.full(len(OWN_DB), 0.2))
    together = chances(likely, share)
    right = OWN_DB.index(own_db)
    assert together[:, right].mean() > alone[:, right].mean()
    assert together.sum(axis=1) == pytest.approx(1.0)


def test_a_drive_of_unlike_hills_keeps_both() -> None:
    rng = np.random.default_rng(4)
    both = [log_likelihood(rng, OWN_DB[0], 20), log_likelihood(rng, OWN_DB[-1], 20)]
    share = in_drive(np.concatenate(both))
    assert share[0] == pytest.approx(0.5, abs=0.15)
    assert share[-1] == pytest.approx(0.5, abs=0.2)


def test_one_hill_is_not_believed_alone() -> None:
    """Without any the usual is taken; one that is sure of itself shifts that and no more."""
    usual = in_drive(np.empty((0, len(OWN_DB))))
    sure = np.where(np.array(OWN_DB) == OWN_DB[0], 0.0, -50.0)[np.newaxis]
    share = in_drive(sure)
    assert usual.sum() == pytest.approx(1.0)
    assert usual[0] < share[0] < 0.5
    assert chances(sure, share)[0, 0] == pytest.approx(1.0)
