"""The build sheets of a can on a neck, read back from the PDF."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BuildPlan, BuildWishes, plan_build
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.build.sheets.printed import MM, Printed, curves_mm
from tests.analysis.report.sized_examples import branch, can_branch, sizing

BENT = BuildWishes(room=Room(reach_m=0.20, run_m=0.90))
LEANING = BuildWishes(angle_rad=math.radians(60.0))


def plan(wishes: BuildWishes, spacing_m: float = 0.85) -> BuildPlan:
    pair = (can_branch(0.52, 1.0, 94.8), can_branch(0.70, 1.85, 74.0))
    return plan_build(replace(sizing(*pair), spacing_m=spacing_m), wishes)


@cache
def sheets(wishes: BuildWishes, paper: str = "a4", spacing_m: float = 0.85) -> Printed:
    return Printed(build_sheets(plan(wishes, spacing_m), PAPERS[paper]))


@pytest.mark.parametrize("wishes", [STRAIGHT, BENT])
def test_the_cut_list_adds_up_to_what_it_says(wishes: BuildWishes) -> None:
    words = sheets(wishes).page("Cut list, branch 1").extract_words()
    rows = {}
    for word in words:  # columns: piece at 10 mm from the paper's edge, mm at 71 mm
        if word["x0"] < 24.0 * MM and word["text"] in "1234567":
            beside = [w for w in words if abs(w["top"] - word["top"]) < 1.0]
            rows[word["text"]] = next(
                float(w["text"]) for w in beside if 70.0 * MM < w["x0"] < 94.0 * MM
            )
    made = plan(wishes).branches[0]
    names = ["1", "2", "3", "5"] if made.fold.turn_rad else ["1", "3"]  # not the discs
    assert sum(rows[name] for name in names) == pytest.approx(1e3 * made.centreline_m, abs=0.2)


@pytest.mark.parametrize("wishes", [STRAIGHT, BENT])
def test_the_sheets_name_can_neck_and_discs_and_say_how_to_join_them(wishes: BuildWishes) -> None:
    bent = bool(plan(wishes).branches[0].fold.turn_rad)
    text = sheets(wishes).text
    for words in (
        "Make the can",
        "flush with the disc's inside",
        "Joints, branch 1",
        "front disc, across",
        "end disc, across",
        "can tube",
        "hole in its middle 44.45 mm (1.750 in)",
        "Disc template",
        "at the lowest point of the can",
        "Tube 101.60 x 1.65 mm (4.000 x 0.065 in)",
        "Sounds like a can of",
        "neck, straight",
    ):
        assert words in text
    assert ("Mandrel bend 90°" in text) == bent
    assert ("the can lies along the pipe" in text) == bent


def drawing_words(printed: Printed, number: int) -> str:
    return printed.texts[printed.number_of(f"Drawing, branch {number}")]


def test_two_cans_too_close_are_laid_or_turned_away_from_each_other() -> None:
    bent, straight = sheets(BENT, spacing_m=0.30), sheets(STRAIGHT, spacing_m=0.12)
    assert "Lay this can towards the collector" in drawing_words(bent, 1)
    assert "Lay this can towards the outlet" in drawing_words(bent, 2)
    assert "turn one branch around the pipe" in drawing_words(straight, 1)
    for wishes in (BENT, STRAIGHT):  # far enough apart
        words = drawing_words(sheets(wishes), 1)
        assert "Lay this can" not in words
        assert "turn one branch" not in words


def test_a_plain_branch_has_no_sheet_or_word_of_a_can() -> None:
    text = Printed(build_sheets(plan_build(sizing(branch()), STRAIGHT), PAPERS["a4"])).text
    assert "Cut list" in text
    assert "Joints," not in text
    assert "Disc template" not in text
    assert "Make the can" not in text
    assert "neck" not in text


def test_the_disc_template_is_as_wide_as_the_can_and_its_hole_as_the_neck() -> None:
    curves = curves_mm(sheets(STRAIGHT).page("Disc template"))
    wide = [float(np.ptp(curve[:, 0])) for curve in curves]
    for across_mm in (101.6, 44.45):  # of the tubes in the example
        assert min(abs(each - across_mm) for each in wide) < 0.05
