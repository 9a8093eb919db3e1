"""Cured with nothing to spare, against cured surely."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.bench.outcome import Outcome


def outcome(*drones_db: list[float], elsewhere_db: float = 0.0) -> Outcome:
    """One trial in as many guesses as there are numbers for each drone."""
    drones = np.array(drones_db)[:, np.newaxis]
    return Outcome(drones_db=drones, elsewhere_db=np.full(drones.shape[1:], elsewhere_db))


def test_the_odds_are_those_of_the_definition() -> None:
    """By analysis/basics/cure.py: 10 dB down, and 3 dB up at most elsewhere."""
    beside = [CURED_DB - 0.1, CURED_DB + 0.1, CURED_DB - 5.0, CURED_DB - 0.1]
    assert outcome(beside).odds == pytest.approx([0.75])
    assert outcome(beside).cured_share == pytest.approx([0.25])  # with something to spare
    assert outcome(beside, elsewhere_db=ELSEWHERE_DB + 0.1).odds == pytest.approx([0.0])


def test_of_two_drones_both_must_be_cured() -> None:
    two = outcome([-15.0, -15.0, -5.0], [-15.0, -5.0, -15.0])
    assert two.drone_db.tolist() == [[-15.0, -5.0, -5.0]]
    assert two.odds == pytest.approx([1.0 / 3.0])


def test_a_search_sees_a_slope_where_the_odds_are_flat() -> None:
    near, far = outcome([-9.0, -9.0]), outcome([-5.0, -5.0])
    assert near.odds == far.odds == 0.0
    assert near.soft_odds > far.soft_odds
