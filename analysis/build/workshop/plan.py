"""Everything the builder needs for each branch, worked out before anything is drawn."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass, replace

from analysis.acoustics.transmission_loss import quarter_wave_m
from analysis.branches import Branch, Sizing, SlidingCap, Tube
from analysis.build.workshop.branch_folding import fold_branch
from analysis.build.workshop.can_plan import DISC_M, NECK_TAIL_M, CanPlan, plan_can
from analysis.build.workshop.coping import Saddle
from analysis.build.workshop.fold_solver import SHORTEST_PIECE_M
from analysis.build.workshop.folds import USUAL_ROOM, Fold, FoldRequest, Room
from analysis.build.workshop.stock_parts import (
    HoleSaw,
    bend_radii_m,
    hole_saws,
    likely_pipe,
    pipe_with_wall,
)

# of template below the deepest cut, to wrap square and to write on; judgement: layout of the paper
_PAPER_BAND_M = 0.030


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildWishes:
    """What the builder wants; None where nobody said, and as much room as is usual."""

    angle_rad: float = math.pi / 2.0
    pipe_wall_m: float | None = None
    room: Room = USUAL_ROOM
    bend_radius_m: float | None = None


AS_USUAL = BuildWishes()  # square to the pipe, bent into the usual room, of what a shop stocks


@dataclass(frozen=True, slots=True, kw_only=True)
class BranchPlan:
    """One branch: its saddle and its pieces.

    Pieces are as cut: with a sliding cap they end where it is pushed in. With a can, ``fold`` is of
    the neck alone.
    """

    number: int
    branch: Branch
    saddle: Saddle
    fold: Fold
    can: CanPlan | None = None

    @property
    def cap(self) -> SlidingCap | None:
        """The cap that slides; None for one that is fixed."""
        return self.branch.cap

    @property
    def saws(self) -> tuple[HoleSaw, ...]:
        """Hole saws that are no wider than the branch inside."""
        return hole_saws(self.branch.tube.inner_diameter_m)

    @property
    def capped_tube(self) -> Tube:
        """Tube whose end the cap closes."""
        return self.branch.capped_tube

    @property
    def can_m(self) -> float:
        """Length of the can's tube; zero without one."""
        return 0.0 if self.can is None else self.can.length_m

    @property
    def centreline_m(self) -> float:
        """From the datum to the end that the cap closes, along the middle of the tube."""
        return self.fold.centreline_m + self.can_m

    @property
    def start_m(self) -> float:
        """How far a sliding cap is pulled out to sound as sized; zero for a fixed one."""
        return 0.0 if self.cap is None else self.cap.start_m

    @property
    def furthest_m(self) -> float:
        """How far a sliding cap may be pulled out; zero for a fixed one."""
        return 0.0 if self.cap is None else self.cap.furthest_m

    @property
    def square_line_m(self) -> float:
        """From the datum out to the template's square line, along the branch's axis."""
        return self.saddle.farthest_m + _PAPER_BAND_M

    @property
    def first_blank_m(self) -> float:
        """Square-cut tube for the first piece, before the saddle is cut."""
        return self.fold.straight_m[0] - self.saddle.nearest_m

    @property
    def square_line_from_end_m(self) -> float:
        """From the first piece's other end back to the template's square line."""
        return self.fold.straight_m[0] - self.square_line_m


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildPlan:
    """All branches of a sizing.

    ``wall_given`` is false when the pipe's wall was assumed.
    """

    sizing: Sizing
    branches: tuple[BranchPlan, ...]
    wall_given: bool
    room: Room


def plan_build(sizing: Sizing, wishes: BuildWishes) -> BuildPlan:
    """Work out every piece of every branch.

    Raises
    ------
    SizingError
        An angle outside 30 to 90 degrees, a branch wider than the pipe, or one that does not fold
        into the room.
    """
    wall_m = wishes.pipe_wall_m

    def pipe_of(branch: Branch) -> Tube:
        bore_m = branch.pipe_inner_diameter_m or sizing.pipe_inner_diameter_m
        return likely_pipe(bore_m) if wall_m is None else pipe_with_wall(bore_m, wall_m)

    return BuildPlan(
        sizing=sizing,
        branches=tuple(
            _plan_branch(number, branch, pipe_of(branch), wishes)
            for number, branch in enumerate(sizing.branches, start=1)
        ),
        wall_given=wall_m is not None,
        room=wishes.room,
    )


def _plan_branch(number: int, branch: Branch, pipe: Tube, wishes: BuildWishes) -> BranchPlan:
    saddle = Saddle(pipe=pipe, branch=branch.tube, angle_rad=wishes.angle_rad)
    cap = branch.cap
    request = FoldRequest(
        length_m=branch.tube_end_m,
        tube=branch.tube,
        # the disc on the end takes room too, and it moves with the sleeve
        slide_m=DISC_M + (0.0 if cap is None else cap.furthest_m),
        first_m=saddle.farthest_m + _PAPER_BAND_M + SHORTEST_PIECE_M / 4.0,
        # a sleeve slides on straight tube only
        last_m=NECK_TAIL_M if cap is None else cap.sleeve_m,
        above_datum_m=pipe.wall_m,
        angle_rad=wishes.angle_rad,
        quarter_wave_m=quarter_wave_m(branch.tuned_hz, branch.gas_temperature_k),
    )
    own = wishes.bend_radius_m
    radii_m = bend_radii_m(branch.tube.outer_diameter_m) if own is None else (own,)
    can: CanPlan | None = None
    if branch.can is None:
        fold = fold_branch(request, wishes.room, radii_m)
    else:
        neck = replace(request, length_m=branch.can.neck_m, last_m=NECK_TAIL_M)
        fold, can = plan_can(branch.can, branch.tube_end_m, neck, wishes.room, radii_m)
    return BranchPlan(
        number=number,
        branch=branch,
        saddle=saddle,
        fold=fold,
        can=can,
    )
