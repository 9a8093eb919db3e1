"""Paper templates at true scale: one to wrap around the branch, one to lay on the pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable, Sequence

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.pen import CENTRE, CUT, DATUM, FILE_BACK, HIDDEN, THIN, Area, Pen
from analysis.build.sheets.book import Paper, Sheet
from analysis.build.sheets.tiling import TrueScale, true_scale_sheets
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import both, caliper, degrees
from analysis.words.sentences import listed

_Outline = Callable[[FloatArray], tuple[FloatArray, FloatArray]]

# judgement: a chord of half a degree strays from the curve by 0.4 um on 80 mm tube; the rest is
# layout.
_STEPS = 720
_TAB_MM = 12.0
_ROUND_MM = 25.0  # of centreline beyond the hole


def saddle_sheets(plans: Sequence[BranchPlan], who: str, paper: Paper) -> list[Sheet]:
    """Give the template that tells how to cut the end of branches that meet the pipe alike."""
    plan = plans[0]
    saddle, count = plan.saddle, sum(each.branch.welds for each in plans)
    again = "" if count == 1 else f" Print it {count} times: each branch needs its own."
    around_mm = 1e3 * math.pi * saddle.branch.outer_diameter_m
    highest = 1e3 * (plan.square_line_m - saddle.nearest_m)
    drawing = TrueScale(
        extent=Area(left=-4.0, bottom=-4.0, right=around_mm + _TAB_MM + 1.0, top=highest + 7.0),
        draw=lambda pen: _draw_saddle(pen, plan),
    )
    return true_scale_sheets(
        drawing,
        paper,
        title=f"Saddle template, {who}",
        about=f"For tube of {caliper(saddle.branch.outer_diameter_m)} outside, on pipe of "
        f"{caliper(saddle.pipe.outer_diameter_m)} outside, at {degrees(saddle.angle_rad)}. "
        f"True scale.{again}",
        how=(
            "Cut out along the thick line, the thin frame and the tab. Wrap around the tube, print "
            "outside, the paper on the part you keep: A meets A over the tab. A gap of "
            "0.5 mm (1/64 in) is right.",
            f"The square line lies {_square_line(plans)} from the other, square-cut end of the "
            "first piece. Scribe the thick line and cut square to the surface.",
            "Then file the inside edge back to the dashed line where that is nearer to the square "
            "line: the outside edge must touch the pipe all around.",
        ),
    )


def _square_line(plans: Sequence[BranchPlan]) -> str:
    """Say where it lies on the first piece of each branch."""
    lies = {plan.number: both(plan.square_line_from_end_m) for plan in plans}
    if len(set(lies.values())) == 1:
        return next(iter(lies.values()))
    return listed([f"{text} (branch {number})" for number, text in lies.items()])


def hole_sheets(plan: BranchPlan, who: str, paper: Paper) -> list[Sheet]:
    """Give the template that tells where the hole in the pipe goes."""
    saddle = plan.saddle
    along, across = _turn_mm(saddle.seat_outline_m)
    drawing = TrueScale(
        extent=Area(
            left=float(along.min()) - _ROUND_MM,
            bottom=float(across.min()) - 14.0,
            right=float(along.max()) + _ROUND_MM,
            top=float(across.max()) + 14.0,
        ),
        draw=lambda pen: _draw_hole(pen, plan),
    )
    saw = (
        "A hole saw makes this shape: set its pilot drill on the cross, and file to the line."
        if saddle.is_square
        else "A leaning hole cannot be sawn square: cut just inside the line, then file to it."
    )
    return true_scale_sheets(
        drawing,
        paper,
        title=f"Hole template, {who}",
        about=f"For the pipe of {caliper(saddle.pipe.outer_diameter_m)} outside; hole as wide as "
        f"the inside of the branch, {caliper(saddle.branch.inner_diameter_m)}, at "
        f"{degrees(saddle.angle_rad)}. True scale.",
        how=(
            "Scribe a line along the pipe where the branch will stand. Lay the paper around the "
            "pipe, the chain line on it, the cross where the branch goes; tape it down.",
            f"Thick line: the edge of the hole. {saw}",
            "Dashed line: where the outside of the branch will sit, and where it will be welded.",
        ),
    )


def _draw_saddle(pen: Pen, plan: BranchPlan) -> None:
    saddle = plan.saddle
    around = np.linspace(0.0, 2.0 * math.pi, _STEPS + 1)
    along_mm = 1e3 * saddle.branch.outer_diameter_m / 2.0 * around
    right = float(along_mm[-1])
    outer_mm = 1e3 * (plan.square_line_m - saddle.outer_edge_m(around))
    inner_mm = 1e3 * (plan.square_line_m - saddle.inner_edge_m(around))
    _quarters(pen, plan, outer_mm, right)
    pen.path(np.column_stack([along_mm, inner_mm]), FILE_BACK)
    pen.path(np.column_stack([along_mm, outer_mm]), CUT)
    pen.line(0.0, 0.0, right, 0.0, DATUM)
    pen.line(0.0, 0.0, 0.0, float(outer_mm[0]), THIN)
    pen.line(right, 0.0, right, float(outer_mm[-1]), THIN)
    tab_top = float(outer_mm[-1]) - 2.0
    pen.path(
        [(right, 1.0), (right + _TAB_MM, 4.0), (right + _TAB_MM, tab_top - 3.0), (right, tab_top)],
        HIDDEN,
    )
    pen.text(right + 0.6 * _TAB_MM, tab_top / 2.0, "glue", 7.5, align="middle", turned=90.0)
    for share in (0.125, 0.625):
        pen.text(share * right, 1.2, "SQUARE LINE", 7.5, bold=True, align="middle")
        pen.text(share * right, 5.2, "keep this side", 7.5, align="middle")
    lowest = int(np.argmin(outer_mm[_STEPS // 4 : 3 * _STEPS // 4])) + _STEPS // 4
    pen.text(
        float(along_mm[lowest]), float(outer_mm[lowest]) + 2.5, "cut away", 7.5, align="middle"
    )


def _quarters(pen: Pen, plan: BranchPlan, outer_mm: FloatArray, right: float) -> None:
    """Draw the marks A to D, a quarter turn apart, from the square line to the cut."""
    square = plan.saddle.is_square
    names = (
        ("A", "seam; on the line along the pipe" if square else "seam; wide-angle side"),
        ("B", "side of the pipe"),
        ("C", "on the line along the pipe" if square else "small-angle side"),
        ("D", "side of the pipe"),
        ("A", ""),
    )
    for index, (letter, meaning) in enumerate(names):
        x, top = index * right / 4.0, float(outer_mm[index * _STEPS // 4])
        pen.line(x, 0.0, x, top, CENTRE)
        at = x - 2.5 if index == len(names) - 1 else x + 2.5
        pen.text(at, 12.5, letter, 13.0, bold=True, align="middle")
        pen.paragraph(x + 5.5, 15.3, right / 4.0 - 7.0, meaning, 7.5)


def _draw_hole(pen: Pen, plan: BranchPlan) -> None:
    saddle = plan.saddle
    hole, seat = _turn_mm(saddle.hole_outline_m), _turn_mm(saddle.seat_outline_m)
    left, right = float(seat[0].min()), float(seat[0].max())
    pen.line(left - _ROUND_MM + 2.0, 0.0, right + _ROUND_MM - 2.0, 0.0, CENTRE)
    low, high = float(seat[1].min()), float(seat[1].max())
    pen.line(0.0, low - 8.0, 0.0, high + 8.0, CENTRE)
    pen.path(np.column_stack(seat), FILE_BACK, closed=True)
    pen.path(np.column_stack(hole), CUT, closed=True)
    pen.cross(0.0, 0.0, 5.0, radius=1.0)
    pen.text(3.0, 6.0, "place of", 7.5)
    pen.text(3.0, 2.8, "the branch", 7.5)
    pen.text(left - 3.0, 1.5, "A", 13.0, bold=True, align="end")
    pen.text(right + 3.0, 1.5, "C", 13.0, bold=True)
    if not saddle.is_square:
        pen.text(right + 3.0, -4.0, "branch leans", 7.5)
        pen.text(right + 3.0, -7.5, "this way", 7.5)
    pen.text(3.0, high + 4.0, "around the pipe", 7.5)
    pen.text(left - _ROUND_MM + 3.0, -4.0, "along the pipe", 7.5)


def _turn_mm(outline: _Outline) -> tuple[FloatArray, FloatArray]:
    """Follow an outline all the way around, in millimetres."""
    around = np.linspace(0.0, 2.0 * math.pi, _STEPS + 1)
    along_m, across_m = outline(around)
    return 1e3 * along_m, 1e3 * across_m
