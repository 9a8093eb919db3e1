"""What branches should do, in one sentence."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

from analysis.basics.interval import Interval
from analysis.branches import OtherDrone, Prediction
from analysis.report.answer import build_sentence
from analysis.words.foretold import best_found, foretold, foretold_all, foretold_rows
from tests.analysis.report.sized_examples import sizing


def predicted(low_db: float, likely_db: float, high_db: float) -> Prediction:
    return Prediction(
        level_change_db=likely_db,
        level_change_db_range=Interval(low=low_db, high=high_db),
        elsewhere_change_db=0.0,
    )


def test_the_range_is_that_of_the_credible_cases() -> None:
    told = "about 16 dB quieter (11.0 dB at worst, 23.2 dB at best)"
    assert foretold(predicted(-23.2, -16.3, -11.0)) == told


def test_a_case_in_which_it_gets_louder_is_said() -> None:
    told = "about 3 dB quieter (1.5 dB louder at worst, 8.0 dB at best)"
    assert foretold(predicted(-8.0, -3.1, 1.5)) == told


def test_where_nothing_helps_no_decibels_hide_it() -> None:
    helps = replace(sizing(), predicted=predicted(-8.0, -3.1, 1.5))
    assert best_found(helps).startswith("the best branches found would make the drone about 3 dB")
    nothing = replace(sizing(), predicted=predicted(-0.9, 0.2, 0.9))
    assert best_found(nothing) == "nothing that was tried is likely to make the drone quieter"


def test_a_drone_that_no_plan_is_for_is_told_apart_from_the_odds() -> None:
    one = sizing()
    left = OtherDrone(
        target=replace(one.target, peak_hz=84.0),
        predicted=predicted(-5.1, -1.2, 5.9),
        is_planned_for=False,
    )
    both = replace(one, others=(left,))
    first, other = foretold_rows(both)
    told = "about 1 dB quieter (5.9 dB louder at worst, 5.1 dB at best)"
    assert other == ("At 1,680 rpm", f"not meant for it: {told}")  # 84 Hz, third order
    assert foretold_all(both) == first[1]
    said = build_sentence(both)
    assert f"the drone at 2,240 rpm should get {first[1]}" in said
    assert said.endswith(f"At 1,680 rpm they are not meant to cure: {told}.")
    together = replace(both, others=(replace(left, is_planned_for=True),))
    assert f"the drones should get {first[1]} at 2,240 rpm and {told} at 1,680 rpm" in (
        build_sentence(together)
    )
