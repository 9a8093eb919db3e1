"""A can on a neck: the neck's pieces, straight or with one bend, and the can behind them.

The neck ends flush with the inside of the can's front disc, so its middle line from the datum to
that end is the neck's length. A bend sounds shorter than its middle line; in a neck that is worth
a percent of the tuning, and the last piece makes up for it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import Can, Tube
from analysis.build.workshop.fold_solver import ABOVE_PIPE_M, SPARE_M
from analysis.build.workshop.folds import (
    Fold,
    FoldRequest,
    Room,
    bend_takes_m,
    centreline,
    straight_fold,
    unit,
)
from analysis.errors import SizingError
from analysis.words.lengths import length, length_or_more

DISC_M = 0.003  # thick; common practice, no source
DISC_STEEL = "3 mm (1/8 in) steel"
NECK_TAIL_M = 0.020  # of straight tube behind a bend, to weld around; common practice, no source
_SLEEVE_WALL_M = 0.002  # judgement: room kept for the sleeve; 1 mm more moves a can by as much
_TURN_RAD = math.pi / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CanPlan:
    """The can of one branch.

    Attributes
    ----------
    length_m : of its tube, from the front disc's inside to the end that the cap closes
    clear_of_pipe_m : air between the pipe's outside and the nearest of the can and its sleeve
    """

    tube: Tube
    length_m: float
    clear_of_pipe_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """How far branch and can reach, cap pulled out: along the pipe and away from the datum."""

    left_m: float
    right_m: float
    top_m: float
    can_bottom_m: float

    def fits(self, room: Room, above_datum_m: float) -> bool:
        run_m, reach_m = self.right_m - self.left_m, self.top_m - above_datum_m
        return run_m <= room.run_m - SPARE_M and reach_m <= room.reach_m - SPARE_M


def plan_can(
    can: Can, end_m: float, request: FoldRequest, room: Room, radii_m: Sequence[float]
) -> tuple[Fold, CanPlan]:
    """Fold the neck, and say where that leaves the can.

    Parameters
    ----------
    end_m : from the datum to the can's end
    request : for the neck alone; ``slide_m`` is how far the cap may stand beyond the can's end

    Raises
    ------
    SizingError
        The can does not go into the room, neither straight nor on a bent neck, or it would touch
        the pipe.
    """
    can_m = end_m - can.neck_m
    folds = [straight_fold(request), *_bent_folds(request, can.tube, radii_m)]
    reaches = [_reach(fold, request, can.tube, can_m) for fold in folds]
    above_m = request.above_datum_m
    fitting = (at for at, reach in enumerate(reaches) if reach.fits(room, above_m))
    chosen = next(fitting, None)
    if chosen is None:
        if room.is_told:
            raise SizingError(_misfit(request, room, reaches, radii_m))
        chosen = 0
    clear_m = reaches[chosen].can_bottom_m - above_m
    if clear_m < ABOVE_PIPE_M:
        raise SizingError(
            f"at {math.degrees(request.angle_rad):g} degrees the can comes within "
            f"{length(max(clear_m, 0.0))} of the pipe; give a steeper --angle"
        )
    return folds[chosen], CanPlan(tube=can.tube, length_m=can_m, clear_of_pipe_m=clear_m)


def _misfit(
    request: FoldRequest, room: Room, reaches: Sequence[_Reach], radii_m: Sequence[float]
) -> str:
    """Say why neither the straight neck, the first of ``reaches``, nor a bent one will do."""
    straight, *bent = reaches
    if not _is_upright(request):
        return (
            f"the can does not go straight into {room.size}, and its neck is bent by 90 degrees "
            "or not at all: give --angle 90, or more room (--room, or beside in the car file)"
        )
    if not bent:
        return (
            f"the can does not go straight into {room.size}, and its neck of "
            f"{length(request.length_m)} is too short for a bend of "
            f"{length(min(radii_m))} radius; give a tighter --bend-radius or "
            "more room (--room, or beside in the car file)"
        )
    return (
        f"the can does not go into {room.size}: it needs {_needs(straight, request)} straight, "
        f"or {_needs(bent[0], request)} with a bend in its neck; give more room "
        "(--room, or beside in the car file), or a shorter longest_branch there, and size again"
    )


def _is_upright(request: FoldRequest) -> bool:
    return math.isclose(request.angle_rad, _TURN_RAD, abs_tol=1e-9)


def _bent_folds(request: FoldRequest, can_tube: Tube, radii_m: Sequence[float]) -> list[Fold]:
    """Give the neck with each bend that leaves enough of it; none for one that leans."""
    if not _is_upright(request):
        return []
    bent = (_bent(request, can_tube, radius_m) for radius_m in radii_m)
    return [fold for fold in bent if fold is not None]


def _bent(request: FoldRequest, can_tube: Tube, radius_m: float) -> Fold | None:
    """One bend that lays the can along the pipe; None when too little neck is left behind it."""
    above_m = request.above_datum_m + ABOVE_PIPE_M + _half_m(can_tube)
    # up to whole millimetres: rounded down, the can would come too near the pipe
    first_m = math.ceil(1e3 * max(request.first_m, above_m - radius_m) - 1e-9) / 1e3
    # over a quarter of a wave at the tuned frequency the flow falls, so it does along the neck too
    takes_m = bend_takes_m(
        first_m, _TURN_RAD, radius_m, request.tube.inner_diameter_m, request.quarter_wave_m
    )
    last_m = request.length_m + takes_m - first_m - _TURN_RAD * radius_m
    if last_m < request.last_m:
        return None
    return Fold(
        straight_m=(first_m, last_m),
        turn_rad=(_TURN_RAD,),
        bend_radius_m=radius_m,
        bends_take_m=takes_m,
    )


def _reach(fold: Fold, request: FoldRequest, can_tube: Tube, can_m: float) -> _Reach:
    heading = request.angle_rad - sum(fold.turn_rad)
    front = centreline(fold, request.angle_rad)[-1]
    can = _corners(front, heading, (-DISC_M, can_m + request.slide_m), _half_m(can_tube))
    foot = _corners(np.zeros(2), request.angle_rad, (0.0, 0.0), request.tube.outer_diameter_m / 2.0)
    both = np.vstack([can, foot])
    return _Reach(
        left_m=float(both[:, 0].min()),
        right_m=float(both[:, 0].max()),
        top_m=float(both[:, 1].max()),
        can_bottom_m=float(can[:, 1].min()),
    )


def _corners(
    start: FloatArray, heading: float, along_m: tuple[float, float], half_m: float
) -> FloatArray:
    way = unit(heading)
    across = np.array([-way[1], way[0]])
    return np.array(
        [start + at * way + side * half_m * across for at in along_m for side in (1, -1)]
    )


def _half_m(can_tube: Tube) -> float:
    return can_tube.outer_diameter_m / 2.0 + _SLEEVE_WALL_M


def _needs(reach: _Reach, request: FoldRequest) -> str:
    out_m = reach.top_m - request.above_datum_m + SPARE_M
    along_m = reach.right_m - reach.left_m + SPARE_M
    return f"{length_or_more(out_m)} x {length_or_more(along_m)}"
