"""The can in the side view: its wall and front disc, their numbers, lengths and distance."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.pen import CENTRE, FAINT, THIN, Pen
from analysis.build.drawing.side import Side
from analysis.build.workshop.can_plan import DISC_M, CanPlan
from analysis.words.lengths import both, millimetres, sixteenths

# judgement: layout, moves no answer.
_WALL_GREY, _DISC_GREY = 0.7, 0.2
_CHAIN_MM = 7.0  # on paper, from the can to the lengths of neck and can
_ABOVE_DATUM_MM = 6.5


def can_pieces(can: CanPlan) -> list[tuple[str, float]]:
    """Give the pieces behind the neck, and their lengths or diameters."""
    return [
        ("front disc, across", can.tube.outer_diameter_m),
        ("can, from the front disc to the cap, inside", can.length_m),
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class CanView:
    """The can on its neck; ``to_paper`` maps points [shape=(n, 2)] from world millimetres."""

    side: Side
    can: CanPlan
    one_to: float
    to_paper: Callable[[FloatArray], FloatArray]

    def draw(self, pen: Pen, number: int) -> None:
        """Draw wall, front disc and middle line, and number them."""
        out, bore = self._half_mm(outside=True), self._half_mm(outside=False)
        neck = 500.0 * self.side.plan.branch.tube.outer_diameter_m
        end = self.side.cap_at
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
        parts = (("neck", np.zeros(2), self._front), ("can", self._front, self.side.cap_at))
        for name, start, stop in parts:
            (x1, y1), (x2, y2) = self.to_paper(np.array([start + aside, stop + aside]))
            pen.dimension(x1, y1, x2, y2, "")
            length_m = float(np.linalg.norm(stop - start)) / 1e3
            x, y = (x1 + x2) / 2.0, (y1 + y2) / 2.0
            y = max(y, datum_y + _ABOVE_DATUM_MM)
            for line, words in enumerate((name, millimetres(length_m), sixteenths(length_m))):
                pen.text(x + 2.0, y + 3.0 - 3.4 * line, words, 8.0, bold=line == 0)

    def _draw_distance(self, pen: Pen) -> None:
        """Air between the pipe and a can that lies along it."""
        at = self._front + 0.55 * (self.side.cap_at - self._front)
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
