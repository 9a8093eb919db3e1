"""A branch on its pipe seen from the side, in millimetres from the datum."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.drawing.pen import Area
from analysis.build.workshop.folds import centreline, points_at
from analysis.build.workshop.outline import outline
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import degrees

# pipe outside diameters drawn past the branch; judgement: layout, moves no answer
_PIPE_BEYOND = 0.8


@dataclass(frozen=True)
class Side:
    """Where everything of one branch lies."""

    plan: BranchPlan

    @cached_property
    def middle_mm(self) -> FloatArray:
        """Points along the middle of the branch, or of its neck [shape=(n, 2)]."""
        return 1e3 * centreline(self.plan.fold, self.plan.saddle.angle_rad)

    @cached_property
    def way(self) -> FloatArray:
        """Unit vector: where the far end points to."""
        step = self.middle_mm[-1] - self.middle_mm[-2]
        return np.asarray(step / np.linalg.norm(step))

    @property
    def is_folded(self) -> bool:
        """Whether branch or neck is bent."""
        return bool(self.plan.fold.turn_rad)

    @property
    def front(self) -> FloatArray:
        """Middle of the branch's or neck's end; of a can, its front inside."""
        return np.asarray(self.middle_mm[-1])

    @property
    def across(self) -> FloatArray:
        """Unit vector across the far end."""
        return np.array([-self.way[1], self.way[0]])

    @property
    def tube_end(self) -> FloatArray:
        """Middle of the end that the cap closes, where a sliding one is pushed in all the way."""
        return self.front + 1e3 * self.plan.can_m * self.way

    @property
    def cap_at(self) -> FloatArray:
        """Middle of the cap's inside as sized."""
        return self.tube_end + 1e3 * self.plan.start_m * self.way

    @property
    def cap_out(self) -> FloatArray:
        """The same with the cap pulled out all the way."""
        return self.tube_end + 1e3 * self.plan.furthest_m * self.way

    @property
    def cap_half(self) -> float:
        """Half the outside of the tube that the cap closes."""
        return 500.0 * self.plan.capped_tube.outer_diameter_m

    @cached_property
    def tube(self) -> Area:
        """Around the branch, its cap pulled out."""
        points = 1e3 * outline(self.plan)
        left, bottom = map(float, points.min(axis=0))
        right, top = map(float, points.max(axis=0))
        return Area(left=left, bottom=bottom, right=right, top=top)

    @cached_property
    def ends(self) -> Area:
        """Around the branch and as much of the pipe as is drawn."""
        pipe, tube = self.plan.saddle.pipe, self.tube
        beyond = _PIPE_BEYOND * 1e3 * pipe.outer_diameter_m
        return Area(
            left=tube.left - beyond,
            bottom=-1e3 * (pipe.inner_diameter_m + pipe.wall_m),
            right=tube.right + beyond,
            top=tube.top,
        )

    def pieces(self) -> list[tuple[str, float]]:
        """Every piece of branch or neck in order: what it is, and its length along the middle."""
        fold = self.plan.fold
        pieces = [("straight", fold.straight_m[0])]
        for turn, arc_m, straight_m in zip(
            fold.turn_rad, fold.arc_m, fold.straight_m[1:], strict=True
        ):
            pieces += [(f"bend {degrees(turn)}", arc_m), ("straight", straight_m)]
        return pieces

    def piece_middles(self) -> FloatArray:
        """Where the middle of each piece lies [shape=(n_pieces, 2)]."""
        lengths_mm = 1e3 * np.array([length_m for _, length_m in self.pieces()])
        return points_at(self.middle_mm, np.cumsum(lengths_mm) - lengths_mm / 2.0)
