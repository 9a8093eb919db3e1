"""Side view of the branch on its pipe, cut lengthwise, to proportion and dimensioned."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence

import numpy as np

from analysis.build.drawing.joint import branch_walls, pipe_walls
from analysis.build.drawing.pen import CENTRE, DATUM, FAINT, HIDDEN, OUTLINE, Area, Pen, ToScale
from analysis.build.drawing.side import Side
from analysis.build.workshop.can_plan import DISC_M, CanPlan
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import both, degrees, length, millimetres, thirty_seconds, told_length
from analysis.words.places import measured_from
from analysis.words.shown import either

# judgement: layout, moves no answer; scales that divide easily on a rule.
_SCALES = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30, 40, 50)
_MARGIN = Area(left=28.0, bottom=23.0, right=36.0, top=20.0)  # widths kept for dimensions
_LENGTH_AWAY_MM, _LENGTH_PAST_CAN_MM = 11.0, 32.0
_DATUM_DROP_MM = 3.4  # below the line that the length is taken from, clear of its arrow
_LEGEND_LINE_MM = 4.0
_WALL_GREY = 0.7
_DISC_GREY = 0.2
_CHAIN_MM = 7.0  # on paper, from the can to the lengths of neck and can
_PLACE_MM = 14.0  # room for two arrows and the break between them
_ABOVE_DATUM_MM = 6.5


def draw_elevation(
    pen: Pen, plan: BranchPlan, area: Area, *, room: Room | None = None, notes: Sequence[str] = ()
) -> None:
    """Draw it in a part of a page, at the largest usual scale at which it fits.

    ``notes`` are lines for its corner; without any it names its scale there. A ``room`` that was
    told is named beside a folded branch.
    """
    side = Side(plan)
    legend = _legend(side)
    below = _cap_words(plan) if side.is_folded and plan.cap else ()
    lines = len(legend) + len(below) + max(len(notes), 1)
    wide = area.width - _MARGIN.left - _MARGIN.right
    high = area.height - _MARGIN.bottom - _MARGIN.top - _LEGEND_LINE_MM * (lines - 1)
    ends = side.ends
    fitting = (s for s in _SCALES if ends.width <= wide * s and ends.height <= high * s)
    one_to = next(fitting, _SCALES[-1])
    left = area.left + _MARGIN.left + (wide - ends.width / one_to) / 2.0
    bottom = area.bottom + _MARGIN.bottom + (high - ends.height / one_to) / 2.0
    origin = (left - ends.left / one_to, bottom - ends.bottom / one_to)
    view = ToScale(pen=pen, one_to=one_to, origin=origin)

    notes = notes or (f"1 : {one_to:g}. Work to the figures.",)
    legend_top = area.top - _LEGEND_LINE_MM * (len(notes) + 1)
    pen.lines(area.left, area.top - _LEGEND_LINE_MM, notes, step_mm=_LEGEND_LINE_MM)
    _draw_pipe(view, side)
    _draw_branch(view, side)
    if plan.can is not None:
        _draw_can(view, side, plan.can)
    _draw_cap(view, side)
    _draw_datum(view, side)
    _draw_place(view, side, area)
    if legend:
        _write_legend(pen, area.left, legend_top, legend, below)
        _number_pieces(view, side)
    if not side.is_folded:
        _draw_length(view, side)
        if plan.can is not None:
            _draw_can_lengths(view, side, plan.can)
        return
    x, y = view.at(side.cap_out + 5.0 * one_to * side.way)
    pen.text(x, y - 1.0, "cap", 8.0, align="middle")
    _draw_overall(view, side)
    if room is not None and room.is_told:
        words = f"Room: {both(room.reach_m)} out from the pipe's outside"
        if math.isfinite(room.run_m):
            words += f", {both(room.run_m)} along it"
        pen.text(area.left + 62.0, area.top - 4.0, f"{words}.", 8.0)


def _legend(side: Side) -> list[tuple[str, float]]:
    """Pieces as they are numbered in the view; none where one straight tube is all."""
    can = side.plan.can
    if can is None:
        return side.pieces() if side.is_folded else []
    return [
        *((f"neck, {what}", length_m) for what, length_m in side.pieces()),
        ("front disc, across", can.tube.outer_diameter_m),
        ("can tube, from the front disc's inside to its end", can.length_m),
    ]


def _write_legend(
    pen: Pen, left: float, y: float, legend: Sequence[tuple[str, float]], below: Sequence[str]
) -> None:
    """Lengths of the pieces, and words on the cap where they have no place at its end."""
    for number, (what, length_m) in enumerate(legend, start=1):
        pen.text(left, y, f"{number}", 8.5, bold=True)
        pen.text(left + 5.0, y, f"{what}, {both(length_m)}", 8.5)
        y -= _LEGEND_LINE_MM
    pen.lines(left + 5.0, y, below, 8.5, step_mm=_LEGEND_LINE_MM)


def _cap_words(plan: BranchPlan) -> tuple[str, str]:
    if plan.cap is None:
        return "", "fixed cap: the length runs to its inside"
    return (
        f"cap slides: start {told_length(plan.start_m)} out of the tube's end",
        f"dashed: as far as it slides, {told_length(plan.furthest_m)}",
    )


def _draw_pipe(view: ToScale, side: Side) -> None:
    saddle, ends, pen = side.plan.saddle, side.ends, view.pen
    for corners in pipe_walls(saddle, ends.left, ends.right):
        view.solid(corners, _WALL_GREY)
    middle = -500.0 * saddle.pipe.inner_diameter_m
    (left, y), (right, _) = view.at(np.array([(ends.left, middle), (ends.right, middle)]))
    pen.line(left - 3.0, y, right + 3.0, y, CENTRE)
    pen.arrow(left - 15.0, y, left - 5.0, y)
    pen.text(left - 5.0, y + 1.5, "gas", 8.0, align="end")


def _draw_branch(view: ToScale, side: Side) -> None:
    for corners in branch_walls(side.plan.saddle, side.middle_mm):
        view.solid(corners, _WALL_GREY)
    view.path(side.middle_mm, CENTRE)


def _draw_cap(view: ToScale, side: Side) -> None:
    end, across = side.cap_at, side.cap_half * side.across
    thick = max(2.0, 0.6 * view.one_to) * side.way
    view.solid([end + across, end - across, end - across + thick, end + across + thick], _DISC_GREY)
    cap = side.plan.cap
    if cap is None:
        return
    aside, out = across + view.one_to * side.across, side.cap_out
    held = end - 1e3 * cap.sleeve_m * side.way
    for sign in (1.0, -1.0):
        view.path([held + sign * aside, end + sign * aside], FAINT)
    view.path([end + aside, out + aside, out - aside, end - aside], HIDDEN)


def _draw_datum(view: ToScale, side: Side) -> None:
    (left, y), (right, _) = view.at(np.array([(side.ends.left, 0.0), (side.ends.right, 0.0)]))
    pen, x = view.pen, right + 7.0
    pen.line(left, y, right + 6.0, y, DATUM)
    y -= _DATUM_DROP_MM
    pen.text(x, y - 1.0, "ZERO LINE", 9.0, bold=True)
    pen.lines(x, y - 4.6, ("inside of the wall,", "marks A and C"), 7.5, step_mm=3.2)


def _draw_length(view: ToScale, side: Side) -> None:
    """How long a straight branch is, beside it; its cap; and how far it leans."""
    plan, pen, end = side.plan, view.pen, side.tube_end
    half = 500.0 * plan.saddle.branch.outer_diameter_m
    away_mm = _LENGTH_AWAY_MM if plan.can is None else _LENGTH_PAST_CAN_MM
    right = -side.across
    aside = (side.cap_half + away_mm * view.one_to) * right
    for point in (0.0 * end, end):
        view.path([point + half * right, point + aside + view.one_to * right], FAINT)
    (x1, y1), (x2, y2) = view.at([aside, end + aside])
    pen.dimension(x1, y1, x2, y2, both(plan.centreline_m), 9.0)
    x, y = view.at(side.cap_out)
    pen.lines(x, y + 7.5, _cap_words(plan), align="middle")
    if not plan.saddle.is_square:
        angle = plan.saddle.angle_rad
        x, y = view.at(np.array((1.6 * half / math.sin(angle), 0.0)))
        pen.text(x + 2.0, y + 3.0, degrees(angle), 9.0, bold=True)


def _number_pieces(view: ToScale, side: Side) -> None:
    for number, (x, y) in enumerate(view.at(side.piece_middles()), start=1):
        view.pen.balloon(x, y, number)


def _draw_overall(view: ToScale, side: Side) -> None:
    """How far the folded branch reaches, its cap pulled out all the way."""
    tube, wall, pen = side.tube, 1e3 * side.plan.saddle.pipe.wall_m, view.pen
    (left, top), (right, outside) = view.at(np.array([(tube.left, tube.top), (tube.right, wall)]))
    pen.line(left, top, left, top + 9.0, FAINT)
    pen.line(right, top, right, top + 9.0, FAINT)
    pen.dimension(left, top + 7.0, right, top + 7.0, both((tube.right - tube.left) / 1e3))
    if side.plan.cap is not None:
        over = (left + right) / 2.0
        pen.text(over, top + 10.0, "with the cap pulled out farthest", 8.0, align="middle")
    x = right + 10.0
    pen.line(left, top, x + 2.0, top, FAINT)
    pen.line(right, outside, x + 2.0, outside, FAINT)
    pen.dimension(x, outside, x, top, "", 8.0)
    out = (both((tube.top - wall) / 1e3), "from the outside", "of the pipe")
    pen.lines(x + 2.0, (outside + top) / 2.0 + 2.5, out)


def _draw_place(view: ToScale, side: Side, area: Area) -> None:
    """Where the branch goes, measured from where the tape was laid on, beyond the paper."""
    branch, pen = side.plan.branch, view.pen
    (x, crown), (left, y) = view.at(np.array([(0.0, 0.0), (side.ends.left, side.ends.bottom)]))
    left = min(left, x - _PLACE_MM)
    pen.line(x, crown, x, y - 12.0, CENTRE)
    pen.line(left, y - 3.0, left, y - 12.0, FAINT)
    pen.dimension(left, y - 10.0, x, y - 10.0, "", 8.0)
    # in the middle, clear of both arrows: where the pipe is cut short on paper
    wave = [(-0.7, -12.2), (0.7, -10.6), (-0.7, -9.4), (0.7, -7.8)]
    pen.path([((left + x) / 2.0 + dx, y + dy) for dx, dy in wave], OUTLINE)
    words = "place not worked out: see below"
    if branch.position_m is not None:
        start = measured_from(branch.legs)
        words = f"{length(branch.position_m)} {start}, along the middle of the pipe"
    left, width = area.left + 4.0, area.width - 4.0
    pen.paragraph(left, y - 14.2, width, words, 9.0, bold=branch.position_m is not None)


def _draw_can(view: ToScale, side: Side, can: CanPlan) -> None:
    """Wall, front disc and middle line of the can, numbered behind the neck's pieces."""
    pen, front, end, way, across = view.pen, side.front, side.tube_end, side.way, side.across
    out, bore = 500.0 * can.tube.outer_diameter_m, 500.0 * can.tube.inner_diameter_m
    neck = 500.0 * side.plan.branch.tube.outer_diameter_m
    outside = front - max(1e3 * DISC_M, 0.6 * view.one_to) * way
    for sign in (1.0, -1.0):
        for near, far, low, high, grey in (
            (front, end, bore, out, _WALL_GREY),
            (outside, front, neck, out, _DISC_GREY),
        ):
            low_by, high_by = sign * low * across, sign * high * across
            view.solid([near + high_by, far + high_by, far + low_by, near + low_by], grey)
    view.path([front, end], CENTRE)
    number = len(side.pieces()) + 1
    rim = 0.85 * out * across
    beside = front + rim + view.one_to * (4.0 * across - 7.0 * way)
    (x1, y1), (x2, y2) = view.at([beside, outside + rim])
    pen.arrow(x1, y1, x2, y2)
    pen.balloon(x1, y1, number)
    x, y = view.at((front + end) / 2.0)
    pen.balloon(x, y, number + 1)
    if not side.is_folded:
        return
    # air between the pipe and a can that lies along it
    wall = np.array([(front + 0.55 * (end - front))[0], 1e3 * side.plan.saddle.pipe.wall_m])
    low = wall + np.array([0.0, 1e3 * can.clear_of_pipe_m])
    (x1, y1), (x2, y2) = view.at([low, wall])
    pen.dimension(x1, y1, x2, y2, "")
    air = f"air {both(can.clear_of_pipe_m)}"
    pen.text((x1 + x2) / 2.0 + 2.0, (y1 + y2) / 2.0 - 1.0, air, 8.0, backed=True)


def _draw_can_lengths(view: ToScale, side: Side, can: CanPlan) -> None:
    """Neck and can one after the other, beside a can that stands straight on its neck."""
    pen, front = view.pen, side.front
    half = 500.0 * can.tube.outer_diameter_m
    aside = -(half + _CHAIN_MM * view.one_to) * side.across
    view.path([front - half * side.across, front + 1.15 * aside], FAINT)
    _, datum_y = view.at(0.0 * front)
    for name, start, stop in (("neck", 0.0 * front, front), ("can", front, side.tube_end)):
        (x1, y1), (x2, y2) = view.at([start + aside, stop + aside])
        pen.dimension(x1, y1, x2, y2, "")
        length_m = float(np.linalg.norm(stop - start)) / 1e3
        x, y = (x1 + x2) / 2.0 + 2.0, max((y1 + y2) / 2.0, datum_y + _ABOVE_DATUM_MM) + 3.0
        pen.text(x, y, name, 8.0, bold=True)
        metric, inch = millimetres(length_m), thirty_seconds(length_m)
        lines = either(metric, inch, f"{metric}\n{inch}").splitlines()
        pen.lines(x, y - 3.4, lines, step_mm=3.4)
