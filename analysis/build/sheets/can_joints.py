"""How neck, front disc and can join, cut lengthwise; and the front disc at true scale.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.joint import draw_joint
from analysis.build.drawing.pen import CENTRE, CUT, THIN, Area, Pen, ToScale
from analysis.build.sheets.book import Paper, Sheet
from analysis.build.sheets.tiling import TrueScale, true_scale_sheets
from analysis.build.workshop.can_plan import DISC_M, DISC_STEEL, CanPlan
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import caliper

_ONE_TO = 2.0
_SHOWN_MM = 90.0  # of neck, and of can, at full size
_JOINT_MM, _FRONT_MM = 78.0, 90.0
_WALL_GREY, _NECK_GREY, _DISC_GREY, _WELD_GREY = 0.7, 0.9, 0.45, 0.0
_BEAD_MM = 4.0


def joints_sheet(plan: BranchPlan, can: CanPlan, who: str) -> Sheet:
    """One page: the neck on the pipe, and the neck in the can."""

    def draw(pen: Pen, area: Area) -> None:
        middle = area.top - _JOINT_MM
        draw_joint(pen, plan.saddle, replace(area, bottom=middle))
        _draw_front(pen, plan, can, replace(area, bottom=middle - _FRONT_MM, top=middle))

    return Sheet(
        title=f"Joints, {who}",
        about="Half size. Above: the neck on the pipe. Below: the neck in the can's front disc.",
        draw=draw,
    )


def _draw_front(pen: Pen, plan: BranchPlan, can: CanPlan, area: Area) -> None:
    """Cut lengthwise, the neck from the left, the can open to the right."""
    neck, tube = plan.branch.tube, can.tube
    out, bore = 500.0 * tube.outer_diameter_m, 500.0 * tube.inner_diameter_m
    neck_out, neck_in = 500.0 * neck.outer_diameter_m, 500.0 * neck.inner_diameter_m
    thick = 1e3 * DISC_M
    x, y = area.left + 66.0, area.top - 16.0 - out / _ONE_TO
    half_size = ToScale(pen=pen, one_to=_ONE_TO, origin=(x, y))
    foot, top = -thick - _BEAD_MM, neck_out + _BEAD_MM
    steel = (
        (_box(-_SHOWN_MM, 0.0, neck_in, neck_out), _NECK_GREY),
        (_box(-thick, 0.0, neck_out, out), _DISC_GREY),
        (_box(0.0, _SHOWN_MM, bore, out), _WALL_GREY),
        (np.array([(-thick, neck_out), (foot, neck_out), (-thick, top)]), _WELD_GREY),
        (np.array([(-1.5, out), (1.5, out), (0.0, out - 2.0)]), _WELD_GREY),
    )
    for mirrored in (1.0, -1.0):
        for corners, grey in steel:
            half_size.solid(corners * (1.0, mirrored), grey)
    right, rim, neck_rim, seat = (mm / _ONE_TO for mm in (_SHOWN_MM, out, neck_out, -thick))
    with pen.moved(x, y):
        pen.line(-right - 4.0, 0.0, right + 4.0, 0.0, CENTRE)
        pen.text(-right, neck_rim + 2.0, "neck, from the pipe", 8.0)
        pen.text(right / 2.0, 2.0, "inside of the can", 8.0, align="middle")
        pen.arrow(right - 1.0, rim + 6.0, 0.6, rim + 0.4)
        pen.lines(right, rim + 5.0, _AT_THE_RIM)
        pen.arrow(right + 9.0, neck_rim + 1.0, 0.3, neck_rim - 0.3)
        pen.lines(right + 10.0, neck_rim, _AT_FLUSH)
        pen.arrow(seat - 18.0, -neck_rim - 9.0, seat - 1.0, -neck_rim - 1.4)
        pen.text(seat - 56.0, -neck_rim - 12.0, "weld all around from outside", 8.0)
        pen.line(0.0, -rim, 0.0, -rim - 10.0, THIN)
        pen.arrow(-22.0, -rim - 8.0, 0.0, -rim - 8.0)
        pen.arrow(22.0, -rim - 8.0, 0.0, -rim - 8.0)
        pen.text(-23.0, -rim - 9.0, "neck is measured to here", 8.0, align="end")
        pen.text(23.0, -rim - 9.0, "can is measured from here", 8.0)
        below = "Can's front, cut lengthwise, 1 : 2"
        pen.text(area.width / 2.0 - 66.0, -rim - 17.0, below, 8.0, align="middle")


_AT_THE_RIM = ("disc ON the can's end, as wide as the can;", "weld all around")
_AT_FLUSH = ("neck flush with the disc's inside:", "nothing stands into the can")


def _box(left: float, right: float, low: float, high: float) -> FloatArray:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def disc_sheets(plan: BranchPlan, can: CanPlan, who: str, paper: Paper) -> list[Sheet]:
    """Give the template of the front disc."""
    across_m, hole_m = can.tube.outer_diameter_m, plan.branch.tube.outer_diameter_m
    rim = 500.0 * across_m
    end_of = "can" if plan.cap is None else "sleeve's outside"

    def draw(pen: Pen) -> None:
        pen.circle(0.0, 0.0, rim, CUT)
        pen.circle(0.0, 0.0, 500.0 * hole_m, CUT)
        pen.line(-rim - 4.0, 0.0, rim + 4.0, 0.0, CENTRE)
        pen.line(0.0, -rim - 4.0, 0.0, rim + 4.0, CENTRE)
        pen.cross(0.0, 0.0, 6.0, radius=1.0)
        pen.text(0.0, 250.0 * hole_m - 1.0, "cut out: the neck goes through", 7.5, align="middle")
        pen.text(0.0, rim - 6.0, "front disc", 8.0, bold=True, align="middle", backed=True)

    drawing = TrueScale(
        extent=Area(left=-rim - 5.0, bottom=-rim - 5.0, right=rim + 5.0, top=rim + 5.0), draw=draw
    )
    return true_scale_sheets(
        drawing,
        paper,
        title=f"Disc template, {who}",
        about=f"Front disc of {DISC_STEEL}: {caliper(across_m)} across, "
        f"hole {caliper(hole_m)}. True scale.",
        how=(
            "Measure the can's outside first: the disc is as wide as the can. Centre-punch the "
            "cross through the paper, then scribe both circles.",
            "Cut the hole first, just inside its line, and file it until the neck goes through by "
            "hand with no gap wider than 0.5 mm (1/64 in) to weld over.",
            f"The end disc is a plain one, as wide as the {end_of}.",
        ),
    )
