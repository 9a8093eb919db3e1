"""Plans side by side, in words."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import pytest

from analysis.words.plans import kept_words, plan_name, plan_row, plan_words, what_more_buys
from tests.analysis.report.sized_examples import branch, sizing, with_plans


@pytest.mark.parametrize(
    ("legs", "keeps", "name"),
    [
        ([()], False, "one branch"),
        ([()], True, "one branch, a place kept for a second"),
        ([(), ()], False, "two branches"),
        ([("left", "right")], False, "one branch on each pipe"),
        ([("left", "right")] * 2, False, "two branches on each pipe"),
        ([("left",), ("right",)], False, "one branch on the left pipe and one on the right pipe"),
        ([("rear",)], True, "one branch on the rear pipe, a place kept for a second"),
    ],
)
def test_a_plan_is_named_by_its_pipes(legs: list[tuple[str, ...]], keeps: bool, name: str) -> None:
    assert plan_name(legs, keeps=keeps) == name


def test_the_recommended_plan_says_both_chances() -> None:
    told = plan_words(with_plans().plans)
    assert told is not None
    assert "could be yours it cures 88 at once, 93 once the cap is moved" in told
    assert plan_words(()) is None


def test_the_kept_place_is_said_with_what_it_is_for() -> None:
    told = kept_words(with_plans())
    assert told is not None
    assert told.startswith("keep the place at 360 mm")
    assert told.endswith("may follow there")
    assert kept_words(sizing(branch())) is None


def test_one_sentence_says_what_more_welds_buy() -> None:
    (told,) = what_more_buys(with_plans().plans)
    assert told.startswith("Two branches, 2 to weld instead of 1,")
    assert "98 of 100 at once instead of 88" in told
    assert list(what_more_buys(with_plans().plans[:1])) == []
    hopeless = [
        replace(plan, cured_now_share=0.0, cured_adjusted_share=0.004)
        for plan in with_plans().plans
    ]
    assert list(what_more_buys(hopeless)) == []


def test_a_row_marks_the_recommended_plan() -> None:
    rows = [plan_row(plan) for plan in with_plans().plans]
    assert [row[0].endswith("(recommended)") for row in rows] == [False, True, False]
    assert rows[2][1] == "2"
    hopeless = [replace(plan, cured_adjusted_share=0.004) for plan in with_plans().plans]
    assert not any("recommended" in plan_row(plan)[0] for plan in hopeless)
