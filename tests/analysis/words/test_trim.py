"""What is said about trimming, each sentence once."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.verdicts import TrimOutlook
from analysis.words.trim import outlook_words, trim_order, trim_words
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


def test_of_a_can_on_a_neck_the_can_is_trimmed() -> None:
    canned = replace(TRIM, neck_m=0.200)
    assert trim_order(canned) == (
        "shorten the can of branch 1 (not its neck) by 20 mm (13/16 in) to 689 mm (27 1/8 in) "
        "from front to cap"
    )
    assert trim_order(replace(canned, is_worth_it=False)) == (
        "leave branch 1 at 909 mm (35 13/16 in), neck and can together"
    )


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
        "as built, 2 of 100 credible cases are cured; trimmed, the drone's highest level would "
        "change by -13.6 dB, elsewhere by +0.4 dB, and 98 of 100 credible cases are cured (a cure: "
        "10 dB down and nothing else 3 dB up); 95 %: -14.4 to -12.1 dB"
    )
    assert "size again" in outlook_words(outlook(is_worth_it=True, then_share=0.3))
    left = outlook_words(outlook(is_worth_it=False, then_share=0.98))
    assert left.endswith("no trim would improve that by much")
