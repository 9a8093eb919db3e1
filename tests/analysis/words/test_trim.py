"""What is said about trimming, each sentence once."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.branches import Tube, cap_on
from analysis.verdicts import Addition, Trim, TrimOutlook
from analysis.words.trim import (
    addition_words,
    outlook_words,
    told_with_built,
    trim_order,
    trim_words,
)
from tests.analysis.report.compared_examples import TRIM


@pytest.mark.parametrize(
    ("cut_m", "order"),
    [
        (0.012, "shorten branch 2 by 12 mm (1/2 in) to 897 mm (35 5/16 in)"),
        (-0.012, "lengthen branch 2 by 12 mm (1/2 in) to 921 mm (36 1/4 in)"),
    ],
)
def test_a_trim_is_an_order(cut_m: float, order: str) -> None:
    assert trim_order(replace(TRIM, branch=2, cut_m=cut_m)) == order


def test_one_on_each_pipe_is_told_by_its_pipes() -> None:
    both = replace(TRIM, cut_m=0.012, legs=("left", "right"))
    assert trim_order(both).startswith("shorten branch 1 on each pipe by 12 mm")
    assert trim_order(replace(both, legs=("left",))).startswith("shorten branch 1 on the left pipe")


def test_of_a_can_on_a_neck_the_can_is_trimmed() -> None:
    canned = replace(TRIM, neck_m=0.200)
    assert trim_order(canned) == (
        "shorten the can of branch 1 (not its neck) by 20 mm (13/16 in) to 689 mm (27 1/8 in) "
        "from front to cap"
    )
    assert trim_order(replace(canned, is_worth_it=False)) == (
        "leave branch 1 at 909 mm (35 13/16 in), neck and can together"
    )


def sleeved(cut_m: float, *, is_worth_it: bool = True) -> Trim:
    """A branch of 2.5 in tube cut at 820 mm, its sleeve 80 mm out.

    A sleeve of the tube's outside holds (63.5 / 60.2)^2 = 1.1127 times the gas of the tube, so its
    millimetre counts as that much tube: the volume of a short closed end, by hand.
    """
    tube = Tube(outer_diameter_m=0.0635, wall_m=0.00165, name="2.5 in x 0.065 in")
    cap = cap_on(tube, 0.909, Interval(low=0.820, high=0.950))
    return replace(TRIM, cut_m=cut_m, cap=cap, is_worth_it=is_worth_it)


@pytest.mark.parametrize(
    ("cut_m", "order"),
    [
        (
            0.020,  # 18.0 mm of sleeve
            "push the sleeve of branch 1 in by 18 mm (11/16 in), to 62 mm (2 7/16 in) out",
        ),
        (-0.020, "pull the sleeve of branch 1 out by 18 mm (11/16 in), to 98 mm (3 7/8 in) out"),
        (0.089, "push the sleeve of branch 1 fully in, by 80 mm (3 1/8 in)"),
        (
            0.100,  # 11 mm of tube, or 10 mm of sleeve, are too much when it is pushed in
            "saw 11 mm (7/16 in) off the end of the tube of branch 1 and push the sleeve fully on",
        ),
        (
            -0.080,
            "pull the sleeve of branch 1 out by 72 mm (2 13/16 in), to 152 mm (6 in) out, with a "
            "sleeve 35 mm (1 3/8 in) longer than the sheets say",
        ),
    ],
)
def test_a_sleeve_moves_by_its_own_millimetres(cut_m: float, order: str) -> None:
    assert trim_order(sleeved(cut_m)) == order


def test_a_sleeve_that_is_right_stays() -> None:
    told = trim_words(sleeved(0.020, is_worth_it=False))
    assert told.startswith("leave the sleeve of branch 1 as it is, 80 mm (3 1/8 in) out: it works")


def test_the_next_comparison_is_told_where_the_sleeves_stand_then() -> None:
    assert told_with_built([sleeved(0.020)]) == '--built "sleeve 62 mm"'
    assert told_with_built([sleeved(0.020), TRIM]) == ""
    assert told_with_built([sleeved(0.100)]) == ""


def test_how_sure_and_why() -> None:
    told = trim_words(TRIM)
    assert told.removeprefix(trim_order(TRIM)) == (
        " (95 %: by 14 mm (9/16 in) to 26 mm (1 in)): it works at 109.0 Hz and should work at "
        "112.0 Hz; its gas is at about 165 °C (329 °F), 95 %: 159 °C (318 °F) to 171 °C (340 °F)"
    )
    assert trim_words(replace(TRIM, is_worth_it=False)).startswith(
        "leave branch 1 at 909 mm (35 13/16 in): it works"
    )


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_an_interval_that_holds_zero_says_which_way(way: float) -> None:
    ends_m = sorted((-way * 0.005, way * 0.020))
    trim = replace(TRIM, cut_m=way * 0.008, ci95_m=Interval(low=ends_m[0], high=ends_m[1]))
    assert "(95 %: by 5 mm (3/16 in) the other way to 20 mm (13/16 in))" in trim_words(trim)


def outlook(*, is_worth_it: bool, then_share: float) -> TrimOutlook:
    return TrimOutlook(
        is_worth_it=is_worth_it,
        now_db=-9.1,
        then_db=-13.6,
        then_ci95_db=Interval(low=-14.4, high=-12.1),
        elsewhere_now_db=-math.inf,
        elsewhere_then_db=0.4,
        cured_now_share=0.02,
        cured_then_share=then_share,
    )


def test_what_all_trims_would_do() -> None:
    assert outlook_words(outlook(is_worth_it=True, then_share=0.98)) == (
        "as built, 2 of 100 exhausts that fit both drives are cured; trimmed, the drone's highest "
        "level would change by -13.6 dB, elsewhere by +0.4 dB, and 98 of 100 exhausts that fit "
        "both drives are cured (a cure: 10 dB down and nothing else 3 dB up); 95 %: -14.4 to "
        "-12.1 dB"
    )
    assert "size again" in outlook_words(outlook(is_worth_it=True, then_share=0.3))
    left = outlook_words(outlook(is_worth_it=False, then_share=0.98))
    assert left.endswith("no trim alone would improve that by much")


def test_a_second_branch_is_told_with_its_place_and_what_both_do() -> None:
    addition = Addition(
        length_m=0.39,
        position_m=0.36,
        legs=(),
        bore_m=0.0539,
        first_m=0.58,
        outlook=outlook(is_worth_it=True, then_share=0.98),
    )
    told = addition_words(addition)
    assert told.startswith("weld on the second branch, 390 mm (15 3/8 in) long, at the place kept")
    assert "360 mm (14 3/16 in) from the collector, with branch 1 at 580 mm" in told
    assert "98 of 100 exhausts that fit both drives are cured; 95 %: -14.4 to -12.1 dB" in told
