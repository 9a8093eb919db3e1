"""The joint at half size, seen from the side and along the pipe: what sits on what."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.pen import CENTRE, DATUM, THIN, Area, Pen
from analysis.build.workshop.coping import Saddle
from analysis.words.lengths import diameter

_ONE_TO = 2.0
# judgement: layout, moves no answer.
_STUB_MM = 55.0  # of branch shown, at full size
_WALL_GREY = 0.75


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
    with pen.moved(x, y):
        gap = math.asin(inside / pipe)  # the hole, to either side of the top
        turn = np.linspace(math.pi / 2.0 + gap, 2.5 * math.pi - gap, 181)
        around = np.column_stack([np.cos(turn), np.sin(turn)])
        ring = np.vstack([pipe * around, bore * around[::-1]])
        pen.path(ring / _ONE_TO, THIN, closed=True, fill_grey=_WALL_GREY)
        for sign in (-1.0, 1.0):
            corners = [(out, ears[0]), (out, top), (inside, top), (inside, ears[1])]
            wall = np.array([(sign * x, y) for x, y in corners])
            pen.path(wall / _ONE_TO, THIN, closed=True, fill_grey=0.9)
        pen.line(0.0, -pipe / _ONE_TO - 3.0, 0.0, top / _ONE_TO + 3.0, CENTRE)
        pen.line(-pipe / _ONE_TO - 3.0, 0.0, pipe / _ONE_TO + 3.0, 0.0, CENTRE)
        pen.line(-pipe / _ONE_TO - 4.0, bore / _ONE_TO, pipe / _ONE_TO + 4.0, bore / _ONE_TO, DATUM)
        pen.text(pipe / _ONE_TO + 5.0, bore / _ONE_TO - 1.0, "DATUM", 8.0, bold=True)
        pen.arrow(pipe / _ONE_TO + 8.0, -8.0, out / _ONE_TO + 0.6, ears[0] / _ONE_TO - 0.4)
        pen.text(pipe / _ONE_TO + 5.0, -12.0, "weld: outside", 7.5)
        pen.text(pipe / _ONE_TO + 5.0, -15.2, "edge touches", 7.5)
    pen.text(x, area.bottom + 2.0, "Joint, seen along the pipe, 1 : 2", 8.0, align="middle")


def _draw_from_the_side(pen: Pen, saddle: Saddle, area: Area) -> None:
    """Cut along the pipe: hole as wide as the bore, nothing inside the pipe."""
    wall, bore = 1e3 * saddle.pipe.wall_m, 1e3 * saddle.pipe.inner_diameter_m
    half = (area.width / 2.0 - 12.0) * _ONE_TO
    lean, rise = math.cos(saddle.angle_rad), math.sin(saddle.angle_rad)
    x = (area.left + area.right) / 2.0 - 0.4 * _STUB_MM * lean / _ONE_TO
    y = area.bottom + 9.0 + (bore + wall) / _ONE_TO
    with pen.moved(x, y):
        walls = pipe_walls(saddle, -half, half)
        for corners in walls:
            pen.path(corners / _ONE_TO, THIN, closed=True, fill_grey=_WALL_GREY)
        axis, aside = np.array([lean, rise]), np.array([-rise, lean])
        ends = np.array([0.0, math.pi])
        for sign, outer_m, inner_m in zip(
            (1.0, -1.0), saddle.outer_edge_m(ends), saddle.inner_edge_m(ends), strict=True
        ):
            out = sign * 500.0 * saddle.branch.outer_diameter_m * aside
            inside = sign * 500.0 * saddle.branch.inner_diameter_m * aside
            points = [
                1e3 * outer_m * axis + out,
                _STUB_MM / rise * axis + out,
                _STUB_MM / rise * axis + inside,
                1e3 * inner_m * axis + inside,
            ]
            pen.path(np.array(points) / _ONE_TO, THIN, closed=True, fill_grey=0.9)
        tip = (_STUB_MM / rise + 8.0) * axis / _ONE_TO
        foot = -bore * axis / rise / _ONE_TO
        pen.path([tuple(foot), tuple(tip)], CENTRE)
        pen.line(-half / _ONE_TO, 0.0, half / _ONE_TO + 2.0, 0.0, DATUM)
        near, far = walls[0][1, 0] / _ONE_TO, walls[1][0, 0] / _ONE_TO
        pen.dimension(near, -9.0, far, -9.0, "", 7.5)
        hole = f"hole {diameter(saddle.branch.inner_diameter_m)}"
        pen.text((near + far) / 2.0, -13.5, hole, 7.5, align="middle", backed=True)
    x, words = (area.left + area.right) / 2.0, "Joint, cut along the pipe, 1 : 2"
    pen.text(x, area.bottom + 2.0, words, 8.0, align="middle")


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
