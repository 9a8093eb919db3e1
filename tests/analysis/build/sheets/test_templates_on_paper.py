"""What is on the paper, read back from the PDF's own vectors, against closed forms.

The saddle is the textbook intersection of two round cylinders whose axes cross; here it is worked
out again from the cylinders' equations by root finding, apart from the code under test.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from pdfminer.pdftypes import resolve1
from scipy.optimize import brentq

from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.plan import BuildPlan, BuildWishes, plan_build
from analysis.size.from_findings import request_for_frequency
from analysis.size.size import size_branches
from tests.analysis.build.sheets.printed import MM, Printed, curves_mm

WITHIN_MM = 0.1


@cache
def plan(degrees: float) -> BuildPlan:
    request = request_for_frequency(frequency_hz=112.0, engine_order=3.0, car=None)
    return plan_build(size_branches(request), BuildWishes(angle_rad=math.radians(degrees)))


@cache
def sheets(degrees: float, paper: str) -> Printed:
    return Printed(build_sheets(plan(degrees), PAPERS[paper]))


def saddle_by_roots(around: float, *, pipe_mm: float, branch_mm: float, angle_rad: float) -> float:
    """Where a line along the branch's skin meets the pipe: |point x pipe axis| = R."""
    axis = np.array([math.cos(angle_rad), 0.0, math.sin(angle_rad)])  # of the branch; pipe along x
    side = np.array([-math.sin(angle_rad), 0.0, math.cos(angle_rad)])
    start = branch_mm * (math.cos(around) * side + math.sin(around) * np.array([0.0, 1.0, 0.0]))

    def outside(z: float) -> float:
        point = start + z * axis
        return float(np.hypot(point[1], point[2]) - pipe_mm)

    lowest = -start[2] / axis[2]
    return float(brentq(outside, lowest, lowest + 10.0 * pipe_mm))


@pytest.mark.parametrize(("paper", "degrees"), [("a4", 90.0), ("letter", 60.0)])
def test_the_cut_line_is_the_intersection_at_36_angles(paper: str, degrees: float) -> None:
    build = plan(degrees)
    saddle = build.branches[0].saddle
    pipe_mm = 500.0 * saddle.pipe.outer_diameter_m
    branch_mm = 500.0 * saddle.branch.outer_diameter_m
    around_mm = 2.0 * math.pi * branch_mm
    curves = curves_mm(sheets(degrees, paper).page("Saddle template"))
    long = [c for c in curves if np.ptp(c[:, 0]) == pytest.approx(around_mm, abs=0.05)]
    assert len(long) == 2  # the line to cut to, and the one to file back to
    asked = np.linspace(0.0, 2.0 * math.pi, 36, endpoint=False)
    true_mm = np.array(
        [
            saddle_by_roots(
                at, pipe_mm=pipe_mm, branch_mm=branch_mm, angle_rad=math.radians(degrees)
            )
            for at in asked
        ]
    )
    errors = []
    for curve in long:
        drawn = np.interp(branch_mm * asked, curve[:, 0] - curve[:, 0].min(), curve[:, 1])
        # the template hangs from its square line: heights fall where the tube reaches further
        sum_mm = drawn + true_mm
        errors.append(float(np.abs(sum_mm - sum_mm.mean()).max()))
    assert min(errors) < WITHIN_MM
    assert max(errors) > 1.0  # the other line is that of the tube's inside


def test_the_rulers_are_100_mm_and_4_in() -> None:
    page = sheets(90.0, "a4").page("Saddle template")
    across = [(line["x1"] - line["x0"]) / MM for line in page.lines]
    upright = [(line["bottom"] - line["top"]) / MM for line in page.lines]
    size_mm = (float(page.width) / MM, float(page.height) / MM)
    for length_mm, lines in ((100.0, across), (101.6, across), (100.0, upright)):
        assert min(abs(line - length_mm) for line in lines) < 0.001 * length_mm
    assert sorted(size_mm) == pytest.approx([210.0, 297.0], abs=0.01)  # ISO 216


def test_every_sheet_says_what_it_is_and_viewers_are_asked_not_to_scale() -> None:
    printed = sheets(90.0, "a4")
    preferences = resolve1(printed.pdf.doc.catalog["ViewerPreferences"])
    assert preferences["PrintScaling"].name == "None"
    count = len(printed.texts)
    for words in ("Before you start: cautions", "Order of work", "Cut list", "Hole template"):
        assert words in printed.text
    assert f"sheet {count} of {count}" in printed.text


def test_other_angles_than_30_to_90_are_refused() -> None:
    with pytest.raises(ValueError, match="30 to 90 degrees"):
        plan(20.0)
