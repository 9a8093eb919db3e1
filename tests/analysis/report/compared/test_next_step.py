"""What to do after the second drive: leave it, trim, weld on another, or look first."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.compare.judgement import all_cured, left_alone
from analysis.findings import Doubt
from analysis.verdicts import Addition, TrimOutlook, Verdict
from tests.analysis.report.compared.pages import (
    KEPT,
    RIGHT,
    compared,
    page_words,
    said,
    two_drives,
)
from tests.analysis.report.compared_examples import TRIM


@pytest.mark.parametrize(
    ("verdict", "step"),
    [
        (Verdict.CURED, "Leave it, and weld the cap where it stands."),
        (Verdict.REDUCED, f"{KEPT}, and look for a leak"),
        (Verdict.UNCHANGED, f"{KEPT}, and try another place"),
        (Verdict.WORSE, f"{KEPT}; the place is in doubt"),
        (Verdict.MOVED, f"{KEPT}; the place is in doubt"),
        (Verdict.CANNOT_TELL, "Cut nothing, and drive again like this: from 1,850 rpm to 2,650 r"),
    ],
)
def test_a_length_that_is_right_is_kept(verdict: Verdict, step: str) -> None:
    assert said(two_drives(compared(verdict, trims=(RIGHT,))))[1].startswith(step)


@pytest.mark.parametrize(
    ("verdict", "step"),
    [
        (Verdict.REDUCED, "These drives do not show where the branch works, so slide its cap 10"),
        (Verdict.UNCHANGED, "Cut nothing yet: check that the branch is open to the pipe"),
        (Verdict.WORSE, "Undo the change, or slide the cap well away"),
        (Verdict.MOVED, "Weld nothing yet: these drives do not show where the branch works"),
    ],
)
def test_where_the_branch_works_is_not_made_up(verdict: Verdict, step: str) -> None:
    assert said(two_drives(compared(verdict)))[1].startswith(step)


@pytest.mark.parametrize(
    "verdict", [Verdict.REDUCED, Verdict.UNCHANGED, Verdict.WORSE, Verdict.MOVED]
)
def test_a_trim_that_is_due_is_the_next_step(verdict: Verdict) -> None:
    assert said(two_drives(compared(verdict, trims=(TRIM,))))[1] == (
        "Shorten branch 1 by 20 mm (13/16 in) to 889 mm (35 in), and drive again."
    )


def outlook(now_db: float, then_db: float) -> TrimOutlook:
    return TrimOutlook(
        is_worth_it=True,
        now_db=now_db,
        then_db=then_db,
        then_ci95_db=Interval(low=then_db - 1.0, high=then_db + 1.0),
        elsewhere_now_db=0.0,
        elsewhere_then_db=0.0,
        cured_now_share=0.8,
        cured_then_share=0.99,
    )


SECOND = Addition(
    length_m=0.6,
    position_m=1.2,
    legs=(),
    bore_m=0.0538,
    first_m=0.909,
    outlook=outlook(-11.0, -24.0),
)


@pytest.mark.parametrize("foretold", [None, outlook(-14.0, -15.0), outlook(-11.0, -17.0)])
def test_a_cure_is_sent_back_neither_to_the_saw_nor_to_the_welder(
    foretold: TrimOutlook | None,
) -> None:
    unknown = Doubt(code="trim_unknown", message="What to trim cannot be told: look for a leak.")
    made = compared(
        Verdict.CURED,
        trims=(TRIM,),
        trim_outlook=foretold,
        addition=SECOND,
        warnings=(unknown,),
    )
    page = two_drives(left_alone(made, 3.0))
    assert said(page)[1] == "Leave it, and weld the cap where it stands."
    words = page_words(page)
    assert "look for a leak" not in words
    assert "should work at" not in words
    assert "weld on the second branch" not in words.lower()


@pytest.mark.parametrize(("then_db", "told"), [(-17.0, True), (-12.0, False)])
def test_only_a_clear_gain_of_what_is_cured_is_told_and_as_an_option(
    then_db: float, told: bool
) -> None:
    made = compared(Verdict.CURED, trims=(TRIM,), trim_outlook=outlook(-11.0, then_db))
    words = page_words(two_drives(left_alone(made, 3.0)))
    assert ("only if it is to be quieter still, shorten branch 1 by 20 mm" in words) == told
    assert "of 100 exhausts that fit both drives are cured" not in words


@pytest.mark.parametrize(("highest_db", "is_left"), [(-15.0, True), (-8.0, False)])
def test_a_drone_that_is_down_is_left_alone_though_another_hill_stands_out(
    highest_db: float, is_left: bool
) -> None:
    """One car of the worlds was 20 dB down, and 2 dB up elsewhere; the trim brought it to -4.5."""
    made = compared(Verdict.MOVED, trims=(TRIM,))
    (change,) = made.changes
    down = replace(
        change, level_change_db=-20.0, highest_change_db=highest_db, elsewhere_change_db=1.8
    )
    (trim,) = left_alone(replace(made, changes=(down,)), 3.0).trims
    assert trim.is_worth_it is not is_left


def test_a_cure_that_makes_another_engine_speed_loud_is_none() -> None:
    made = compared(Verdict.CURED, trims=(TRIM,))
    (change,) = made.changes
    loud = replace(made, changes=(replace(change, elsewhere_change_db=4.0),))
    page = two_drives(left_alone(loud, 3.0))
    assert said(page)[1].startswith("Shorten branch 1 by 20 mm")
    assert not all_cured(loud)


def test_a_second_branch_that_is_due_is_the_next_step() -> None:
    made = compared(Verdict.REDUCED, trims=(RIGHT,), addition=SECOND)
    assert said(two_drives(made))[1] == (
        "Weld on the second branch, 600 mm (23 5/8 in) long, at the place kept for it, 1200 mm "
        "(47 1/4 in) from the collector, with branch 1 at 909 mm (35 13/16 in), and drive again."
    )
