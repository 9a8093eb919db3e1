"""The joint at half size, seen from the side and along the pipe: what sits on what."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.pen import CENTRE, DATUM, Area, Pen, ToScale
from analysis.build.workshop.coping import Saddle
from analysis.build.workshop.folds import unit
from analysis.build.workshop.outline import beside
from analysis.words.lengths import diameter

_ONE_TO = 2.0
# judgement: layout, moves no answer.
_STUB_MM = 55.0  # of branch shown, at full size
_PIPE_GREY, _BRANCH_GREY = 0.75, 0.9


def draw_joint(pen: Pen, saddle: Saddle, area: Area) -> None:
    """Draw both views beside each other."""
    middle = (area.left + area.right) / 2.0
    _draw_from_the_side(pen, saddle, replace(area, right=middle))
    _draw_from_the_end(pen, saddle, replace(area, left=middle))


def _draw_from_the_end(pen: Pen, saddle: Saddle, area: Area) -> None:
    """Look along the pipe: the ears of the saddle, the hole, the datum."""
    pipe, bore = 1e3 * saddle.pipe.outer_diameter_m / 2.0, 1e3 * saddle.pipe.inner_diameter_m / 2.0
    out, inside = 500.0 * saddle.branch.outer_diameter_m, 500.0 * saddle.branch.inner_diameter_m
    top = bore + _STUB_MM
    x = (area.left + area.right) / 2.0
    y = area.bottom + 9.0 + pipe / _ONE_TO
    ears = [math.sqrt(max(pipe**2 - r**2, 0.0)) for r in (out, inside)]
    half_size = ToScale(pen=pen, one_to=_ONE_TO, origin=(x, y))
    gap = math.asin(inside / pipe)  # the hole, to either side of the top
    turn = np.linspace(math.pi / 2.0 + gap, 2.5 * math.pi - gap, 181)
    around = np.column_stack([np.cos(turn), np.sin(turn)])
    half_size.solid(np.vstack([pipe * around, bore * around[::-1]]), _PIPE_GREY)
    wall = np.array([(out, ears[0]), (out, top), (inside, top), (inside, ears[1])])
    for mirrored in (-1.0, 1.0):
        half_size.solid(wall * (mirrored, 1.0), _BRANCH_GREY)
    pipe, bore, top, out, ear = (mm / _ONE_TO for mm in (pipe, bore, top, out, ears[0]))
    with pen.moved(x, y):
        pen.line(0.0, -pipe - 3.0, 0.0, top + 3.0, CENTRE)
        pen.line(-pipe - 3.0, 0.0, pipe + 3.0, 0.0, CENTRE)
        pen.line(-pipe - 4.0, bore, pipe + 4.0, bore, DATUM)
        pen.text(pipe + 5.0, bore - 1.0, "ZERO LINE", 8.0, bold=True)
        pen.arrow(pipe + 8.0, -8.0, out + 0.6, ear - 0.4)
        pen.lines(pipe + 5.0, -12.0, ("weld: outside", "edge touches"), 7.5, step_mm=3.2)
    pen.text(x, area.bottom + 2.0, "Joint, seen along the pipe, 1 : 2", 8.0, align="middle")


def _draw_from_the_side(pen: Pen, saddle: Saddle, area: Area) -> None:
    """Cut along the pipe: hole as wide as the bore, nothing inside the pipe."""
    wall, bore = 1e3 * saddle.pipe.wall_m, 1e3 * saddle.pipe.inner_diameter_m
    half = (area.width / 2.0 - 12.0) * _ONE_TO
    way = unit(saddle.angle_rad)
    middle = (area.left + area.right) / 2.0
    x = middle - 0.4 * _STUB_MM * way[0] / _ONE_TO
    y = area.bottom + 9.0 + (bore + wall) / _ONE_TO
    half_size = ToScale(pen=pen, one_to=_ONE_TO, origin=(x, y))
    walls = pipe_walls(saddle, -half, half)
    for corners in walls:
        half_size.solid(corners, _PIPE_GREY)
    tip = _STUB_MM / way[1] * way
    for corners in branch_walls(saddle, np.array([0.0 * tip, tip])):
        half_size.solid(corners, _BRANCH_GREY)
    half_size.path([-bore / way[1] * way, tip + 8.0 * way], CENTRE)
    near, far = walls[0][1, 0] / _ONE_TO, walls[1][0, 0] / _ONE_TO
    with pen.moved(x, y):
        pen.line(-half / _ONE_TO, 0.0, half / _ONE_TO + 2.0, 0.0, DATUM)
        pen.dimension(near, -9.0, far, -9.0, "", 7.5)
        hole = f"hole {diameter(saddle.branch.inner_diameter_m)}"
        pen.text((near + far) / 2.0, -13.5, hole, 7.5, align="middle", backed=True)
    words = "Joint, cut along the pipe, 1 : 2"
    pen.text(middle, area.bottom + 2.0, words, 8.0, align="middle")


def pipe_walls(saddle: Saddle, left: float, right: float) -> list[FloatArray]:
    """Wall of the pipe cut lengthwise, open at the hole: corners in mm from the datum [n, 2]."""
    wall, bore = 1e3 * saddle.pipe.wall_m, 1e3 * saddle.pipe.inner_diameter_m
    hole, _ = saddle.hole_outline_m(np.array([0.0, math.pi]))
    near, far = 1e3 * hole
    return [
        np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)])
        for x1, x2, y1, y2 in (
            (left, near, 0.0, wall),
            (far, right, 0.0, wall),
            (left, right, -bore - wall, -bore),
        )
    ]


def branch_walls(saddle: Saddle, middle_mm: FloatArray) -> list[FloatArray]:
    """Wall of the branch on both sides of its middle, from the pipe on: corners as above [n, 2]."""
    ends = np.array([0.0, math.pi])  # around the tube: the two places that the cut goes through
    outer, inner = 1e3 * saddle.outer_edge_m(ends), 1e3 * saddle.inner_edge_m(ends)
    out, inside = 500.0 * saddle.branch.outer_diameter_m, 500.0 * saddle.branch.inner_diameter_m
    return [
        np.vstack(
            [
                beside(middle_mm, sign * out, outer[at]),
                beside(middle_mm, sign * inside, inner[at])[::-1],
            ]
        )
        for at, sign in enumerate((1.0, -1.0))
    ]
