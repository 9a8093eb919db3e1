"""Side view of the branch on its pipe, cut lengthwise, to proportion and dimensioned."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.joint import pipe_walls
from analysis.build.drawing.pen import CENTRE, DATUM, FAINT, HIDDEN, OUTLINE, THIN, Area, Pen
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


class Elevation:
    """The view in a part of a page, at the largest usual scale at which it fits.

    ``notes`` are lines for its corner; without any it names its scale there.
    """

    def __init__(
        self, plan: BranchPlan, room: Room | None, area: Area, notes: Sequence[str] = ()
    ) -> None:
        self._plan = plan
        self._room = room
        self._area = area
        self._side = Side(plan)
        ends = self._side.ends
        lines = len(self._legend()) + len(self._cap_below()) + max(len(notes) - 1, 0)
        wide = area.width - _MARGIN.left - _MARGIN.right
        high = area.height - _MARGIN.bottom - _MARGIN.top - _LEGEND_LINE_MM * lines
        fitting = (s for s in _SCALES if ends.width <= wide * s and ends.height <= high * s)
        self.one_to = next(fitting, _SCALES[-1])
        self._notes = notes or (f"1 : {self.one_to:g}. Work to the figures.",)
        left = area.left + _MARGIN.left + (wide - ends.width / self.one_to) / 2.0
        bottom = area.bottom + _MARGIN.bottom + (high - ends.height / self.one_to) / 2.0
        self._origin = np.array([left, bottom]) - np.array([ends.left, ends.bottom]) / self.one_to

    def draw(self, pen: Pen) -> None:
        """Draw it all."""
        y = self._area.top
        for words in self._notes:
            y -= _LEGEND_LINE_MM
            pen.text(self._area.left, y, words, 8.0)
        self._draw_pipe(pen)
        self._draw_branch(pen)
        can = None
        if self._plan.can is not None:
            can = _CanView(self._side, self._plan.can, self.one_to, self._at)
            can.draw(pen, len(self._side.pieces()) + 1)
        self._draw_cap(pen)
        self._draw_datum(pen)
        self._draw_place(pen)
        if self._legend():
            self._draw_pieces(pen, y)
        if self._plan.fold.turn_rad:
            self._draw_overall(pen)
        else:
            self._draw_length(pen)
            if can is not None:
                can.draw_lengths(pen)

    def _legend(self) -> list[tuple[str, float]]:
        """Pieces as they are numbered in the view; none where one straight tube is all."""
        pieces = self._side.pieces()
        if self._plan.can is not None:
            neck = [(f"neck, {what}", length_m) for what, length_m in pieces]
            return [
                *neck,
                ("front disc, across", self._plan.can.tube.outer_diameter_m),
                ("can tube, from the front disc's inside to its end", self._plan.can.length_m),
            ]
        return pieces if self._plan.fold.turn_rad else []

    def _cap_below(self) -> tuple[str, ...]:
        """Words on the cap, below the pieces: a bent branch has no place for them at its end."""
        return self._cap_words() if self._plan.fold.turn_rad and self._plan.cap else ()

    def _at(self, points_mm: FloatArray) -> FloatArray:
        """Millimetres from the datum to those on paper [shape=(n, 2)]."""
        return np.asarray(points_mm / self.one_to + self._origin)

    def _point(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        x, y = self._at(np.array([[x_mm, y_mm]]))[0]
        return float(x), float(y)

    def _draw_pipe(self, pen: Pen) -> None:
        saddle, ends = self._plan.saddle, self._side.ends
        for corners in pipe_walls(saddle, ends.left, ends.right):
            pen.path(self._at(corners), THIN, closed=True, fill_grey=_WALL_GREY)
        x1, y = self._point(ends.left, -500.0 * saddle.pipe.inner_diameter_m)
        x2, _ = self._point(ends.right, 0.0)
        pen.line(x1 - 3.0, y, x2 + 3.0, y, CENTRE)
        pen.arrow(x1 - 15.0, y, x1 - 5.0, y)
        pen.text(x1 - 5.0, y + 1.5, "gas", 8.0, align="end")

    def _draw_branch(self, pen: Pen) -> None:
        saddle = self._plan.saddle
        ends = np.array([0.0, math.pi])
        outer, inner = 1e3 * saddle.outer_edge_m(ends), 1e3 * saddle.inner_edge_m(ends)
        for side, sign in enumerate((1.0, -1.0)):
            outside = self._side.beside(sign * 500.0 * saddle.branch.outer_diameter_m, outer[side])
            inside = self._side.beside(sign * 500.0 * saddle.branch.inner_diameter_m, inner[side])
            wall = np.vstack([outside, inside[::-1]])
            pen.path(self._at(wall), THIN, closed=True, fill_grey=_WALL_GREY)
        pen.path(self._at(self._side.middle_mm), CENTRE)

    def _draw_cap(self, pen: Pen) -> None:
        across, half = self._side.across, self._side.cap_half
        end, thick = self._side.cap_at, max(2.0, 0.6 * self.one_to)
        plate = [end + half * across, end - half * across]
        plate += [point + thick * self._side.way for point in reversed(plate)]
        pen.path(self._at(np.array(plate)), THIN, closed=True, fill_grey=0.2)
        if self._plan.cap is None:
            return
        aside, out = (half + self.one_to) * across, self._side.cap_out
        held = end - 1e3 * self._plan.cap.sleeve_m * self._side.way
        for sign in (1.0, -1.0):
            pen.path(self._at(np.array([held + sign * aside, end + sign * aside])), FAINT)
        pen.path(self._at(np.array([end + aside, out + aside, out - aside, end - aside])), HIDDEN)

    def _draw_datum(self, pen: Pen) -> None:
        left, y = self._point(self._side.ends.left, 0.0)
        right, _ = self._point(self._side.ends.right, 0.0)
        pen.line(left, y, right + 6.0, y, DATUM)
        y -= _DATUM_DROP_MM
        pen.text(right + 7.0, y - 1.0, "DATUM", 9.0, bold=True)
        pen.text(right + 7.0, y - 4.6, "inner wall of the", 7.5)
        pen.text(right + 7.0, y - 7.8, "pipe, at its crown", 7.5)

    def _draw_length(self, pen: Pen) -> None:
        angle = self._plan.saddle.angle_rad
        half = 500.0 * self._plan.saddle.branch.outer_diameter_m
        right = np.array([math.sin(angle), -math.cos(angle)])
        away_mm = _LENGTH_AWAY_MM if self._plan.can is None else _LENGTH_PAST_CAN_MM
        end, aside = self._side.tube_end, (self._side.cap_half + away_mm * self.one_to) * right
        for point in (np.zeros(2), end):
            corners = np.array([point + half * right, point + aside + self.one_to * right])
            pen.path(self._at(corners), FAINT)
        (x1, y1), (x2, y2) = self._at(np.array([aside, end + aside]))
        pen.dimension(x1, y1, x2, y2, both(self._plan.centreline_m), 9.0)
        x, y = self._point(*self._side.cap_out)
        for line, words in enumerate(self._cap_words()):
            pen.text(x, y + 7.5 - 3.5 * line, words, 8.0, align="middle")
        if not self._plan.saddle.is_square:
            x, y = self._point(1.6 * half / math.sin(angle), 0.0)
            pen.text(x + 2.0, y + 3.0, degrees(angle), 9.0, bold=True)

    def _cap_words(self) -> tuple[str, str]:
        if self._plan.cap is None:
            return "", "fixed cap: the length runs to its inside"
        return (
            f"cap slides: start {told_length(self._plan.start_m)} out of the tube's end",
            f"dashed: as far as it slides, {told_length(self._plan.furthest_m)}",
        )

    def _draw_pieces(self, pen: Pen, y: float) -> None:
        """Numbers on the pieces, and their lengths in the corner."""
        steps = np.linalg.norm(np.diff(self._side.middle_mm, axis=0), axis=1)
        along = np.append(0.0, np.cumsum(steps))
        for number, (what, length_m) in enumerate(self._legend(), start=1):
            y -= _LEGEND_LINE_MM
            pen.text(self._area.left, y, f"{number}", 8.5, bold=True)
            pen.text(self._area.left + 5.0, y, f"{what}, {both(length_m)}", 8.5)
        for words in self._cap_below():
            y -= _LEGEND_LINE_MM
            pen.text(self._area.left + 5.0, y, words, 8.5)
        start = 0.0
        for number, (_, length_m) in enumerate(self._side.pieces(), start=1):
            middle = start + 500.0 * length_m
            start += 1e3 * length_m
            where = (np.interp(middle, along, axis) for axis in self._side.middle_mm.T)
            pen.balloon(*self._point(*where), number)
        if self._plan.fold.turn_rad:
            x, y = self._point(*(self._side.cap_out + 5.0 * self.one_to * self._side.way))
            pen.text(x, y - 1.0, "cap", 8.0, align="middle")

    def _draw_overall(self, pen: Pen) -> None:
        """How far the folded branch reaches, its cap pulled out all the way."""
        tube, wall = self._side.tube, 1e3 * self._plan.saddle.pipe.wall_m
        left, top = self._point(tube.left, tube.top)
        right, outside = self._point(tube.right, wall)
        pen.line(left, top, left, top + 9.0, FAINT)
        pen.line(right, top, right, top + 9.0, FAINT)
        pen.dimension(left, top + 7.0, right, top + 7.0, both((tube.right - tube.left) / 1e3))
        if self._plan.cap is not None:
            over = (left + right) / 2.0
            pen.text(over, top + 10.0, "with the cap pulled out farthest", 8.0, align="middle")
        x = right + 10.0
        pen.line(left, top, x + 2.0, top, FAINT)
        pen.line(right, outside, x + 2.0, outside, FAINT)
        pen.dimension(x, outside, x, top, "", 8.0)
        out = (both((tube.top - wall) / 1e3), "from the outside", "of the pipe")
        for line, words in enumerate(out):
            pen.text(x + 2.0, (outside + top) / 2.0 + 2.5 - 3.5 * line, words, 8.0)
        if self._room is not None and self._room.is_told:
            words = f"Room: {both(self._room.reach_m)} out from the pipe's outside"
            if math.isfinite(self._room.run_m):
                words += f", {both(self._room.run_m)} along it"
            pen.text(self._area.left + 62.0, self._area.top - 4.0, f"{words}.", 8.0)

    def _draw_place(self, pen: Pen) -> None:
        position_m = self._plan.branch.position_m
        x, crown = self._point(0.0, 0.0)
        left, y = self._point(self._side.ends.left, self._side.ends.bottom)
        left = min(left, x - _PLACE_MM)
        pen.line(x, crown, x, y - 12.0, CENTRE)
        pen.line(left, y - 3.0, left, y - 12.0, FAINT)
        pen.dimension(left, y - 10.0, x, y - 10.0, "", 8.0)
        # in the middle, clear of both arrows: where the pipe is cut short on paper
        wave = [(-0.7, -12.2), (0.7, -10.6), (-0.7, -9.4), (0.7, -7.8)]
        pen.path([((left + x) / 2.0 + dx, y + dy) for dx, dy in wave], OUTLINE)
        words = "place not worked out: see below"
        if position_m is not None:
            start = measured_from(self._plan.branch.legs)
            words = f"{length(position_m)} {start}, along the middle of the pipe"
        left, width = self._area.left + 4.0, self._area.width - 4.0
        pen.paragraph(left, y - 14.2, width, words, 9.0, bold=position_m is not None)


@dataclass(frozen=True, slots=True)
class _CanView:
    """The can on its neck; ``to_paper`` maps points [shape=(n, 2)] from world millimetres."""

    side: Side
    can: CanPlan
    one_to: float
    to_paper: Callable[[FloatArray], FloatArray]

    def draw(self, pen: Pen, number: int) -> None:
        """Draw wall, front disc and middle line, and number them."""
        out, bore = self._half_mm(outside=True), self._half_mm(outside=False)
        neck = 500.0 * self.side.plan.branch.tube.outer_diameter_m
        end = self.side.tube_end
        thick = max(1e3 * DISC_M, 0.6 * self.one_to)
        for sign in (1.0, -1.0):
            wall = [(self._front, out), (end, out), (end, bore), (self._front, bore)]
            self._fill(pen, [at + sign * half * self.side.across for at, half in wall], _WALL_GREY)
            outside = self._front - thick * self.side.way
            disc = [(self._front, out), (self._front, neck), (outside, neck), (outside, out)]
            self._fill(pen, [at + sign * half * self.side.across for at, half in disc], _DISC_GREY)
        pen.path(self.to_paper(np.array([self._front, end])), CENTRE)
        corner = self._front + 0.85 * out * self.side.across
        beside = corner + self.one_to * (4.0 * self.side.across - 7.0 * self.side.way)
        (x1, y1), (x2, y2) = self.to_paper(np.array([beside, corner - thick * self.side.way]))
        pen.arrow(x1, y1, x2, y2)
        pen.balloon(x1, y1, number)
        x, y = self.to_paper((self._front + end) / 2.0)
        pen.balloon(x, y, number + 1)
        if self.side.plan.fold.turn_rad:
            self._draw_distance(pen)

    def draw_lengths(self, pen: Pen) -> None:
        """Neck and can one after the other, beside a can that stands straight on its neck."""
        aside = -(self._half_mm(outside=True) + _CHAIN_MM * self.one_to) * self.side.across
        corner = self._front - self._half_mm(outside=True) * self.side.across
        far = self._front + 1.15 * aside
        pen.path(self.to_paper(np.array([corner, far])), FAINT)
        datum_y = float(self.to_paper(np.zeros((1, 2)))[0, 1])
        parts = (("neck", np.zeros(2), self._front), ("can", self._front, self.side.tube_end))
        for name, start, stop in parts:
            (x1, y1), (x2, y2) = self.to_paper(np.array([start + aside, stop + aside]))
            pen.dimension(x1, y1, x2, y2, "")
            length_m = float(np.linalg.norm(stop - start)) / 1e3
            x, y = (x1 + x2) / 2.0, (y1 + y2) / 2.0
            y = max(y, datum_y + _ABOVE_DATUM_MM)
            metric, inch = millimetres(length_m), thirty_seconds(length_m)
            lines = (name, *either(metric, inch, f"{metric}\n{inch}").splitlines())
            for line, words in enumerate(lines):
                pen.text(x + 2.0, y + 3.0 - 3.4 * line, words, 8.0, bold=line == 0)

    def _draw_distance(self, pen: Pen) -> None:
        """Air between the pipe and a can that lies along it."""
        at = self._front + 0.55 * (self.side.tube_end - self._front)
        wall = np.array([at[0], 1e3 * self.side.plan.saddle.pipe.wall_m])
        low = wall + np.array([0.0, 1e3 * self.can.clear_of_pipe_m])
        (x1, y1), (x2, y2) = self.to_paper(np.array([low, wall]))
        pen.dimension(x1, y1, x2, y2, "")
        x, y = (x1 + x2) / 2.0, (y1 + y2) / 2.0
        pen.text(x + 2.0, y - 1.0, f"air {both(self.can.clear_of_pipe_m)}", 8.0, backed=True)

    @property
    def _front(self) -> FloatArray:
        """Middle of the can's front, inside."""
        return np.asarray(self.side.middle_mm[-1])

    def _half_mm(self, *, outside: bool) -> float:
        tube = self.can.tube
        return 500.0 * (tube.outer_diameter_m if outside else tube.inner_diameter_m)

    def _fill(self, pen: Pen, corners: list[FloatArray], grey: float) -> None:
        pen.path(self.to_paper(np.array(corners)), THIN, closed=True, fill_grey=grey)
