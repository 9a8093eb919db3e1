"""Which drive of a history is the best so far."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.compare.best_drive import all_is_cured, best_drive
from analysis.compare.history import History, HistoryDrive
from tests.analysis.compare.history_examples import (
    BAND,
    BASELINE,
    LEFT,
    PEAK,
    RPM,
    dated,
    drive,
    three_drives,
)
from tests.analysis.made_findings import drone_ms, make_band


def best_name(made: History) -> str | None:
    best = best_drive(made)
    return None if best is None else best.name


def best_of(made: History) -> HistoryDrive:
    best = best_drive(made)
    assert best is not None
    return best


def test_the_cure_is_the_best() -> None:
    made = three_drives()
    assert best_name(made) == "trimmed"
    assert [all_is_cured(each) for each in made.drives] == [False, False, True]


def test_the_latest_need_not_be_the_best() -> None:
    assert best_name(dated(("a", drive(-14.0)), ("b", drive(-6.5, (LEFT,))))) == "a"


@pytest.mark.parametrize("change_db", [0.0, 6.0])
def test_no_drive_is_best_when_none_is_better(change_db: float) -> None:
    assert best_drive(dated(("a", drive(change_db, (BAND,))))) is None


def test_a_drone_that_only_moved_is_not_the_best() -> None:
    elsewhere = make_band(3.0, 1.2 * PEAK, level_db=79.0)
    moved = drive(bands=(elsewhere,), order_ms=drone_ms(RPM, 1.2 * PEAK))
    assert best_name(dated(("moved", moved), ("reduced", drive(-6.5, (LEFT,))))) == "reduced"


def test_less_recording_gain_does_not_make_a_drive_the_best() -> None:
    """Told by the noise between the orders alone, it stays a suspicion."""
    quiet = drive(-13.0, gain_db=-8.0, other_orders=())
    assert best_name(dated(("cured", drive(-14.0)), ("less gain", quiet))) == "cured"
    assert all_is_cured(best_of(dated(("less gain", quiet))))  # 13 dB without the gain
    only_with_it = drive(-6.5, gain_db=-8.0, other_orders=())
    assert not all_is_cured(best_of(dated(("less gain", only_with_it))))


def test_a_gain_that_was_taken_off_neither_helps_nor_harms_a_drive() -> None:
    made = dated(("less gain", drive(-16.0, gain_db=-8.0)), ("cured", drive(-13.0)))
    assert best_name(made) == "less gain"
    made = dated(("more gain", drive(-13.0, gain_db=8.0)), ("cured", drive(-16.0)))
    assert best_name(made) == "cured"


def test_a_new_drone_as_loud_as_the_old_one_decides() -> None:
    new = make_band(6.0, 1500.0, level_db=79.0)
    loud = ("loud", drive(-16.0, (new,)))
    assert best_name(dated(loud, ("quiet", drive(-11.5)))) == "quiet"
    assert not all_is_cured(best_of(dated(loud)))


def test_a_drive_that_missed_the_drone_is_never_the_best() -> None:
    made = dated(("a", replace(BASELINE, curves=())), ("b", drive(-6.5, (LEFT,))))
    assert best_name(made) == "b"
    missed = made.drives[1].comparison
    assert missed is not None
    assert np.isnan(missed.changes[0].level_change_db)
