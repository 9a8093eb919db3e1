"""Fold a branch into the room there is, from straight pieces and bought bends.

The branch lies in one plane. The shape with the fewest bends that can be built wins. What the bends
sound shorter than their centreline is added to the last piece.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence

import numpy as np

from analysis.build.workshop.fold_solver import SHORTEST_PIECE_M, solve_straights
from analysis.build.workshop.folds import (
    Fold,
    FoldRequest,
    Room,
    bend_takes_m,
    centreline,
    points_at,
    straight_fold,
)
from analysis.errors import SizingError
from analysis.words.lengths import length
from analysis.words.sentences import listed

# judgement: air for a weld bead; less lets legs rattle, more needs a longer box. Sampled as finely,
# so no leg slips through.
_BETWEEN_LEGS_M = 0.005
_SAMPLE_M = 0.005
# Turns in degrees, positive to the side the branch is folded to; fewest bends first. judgement:
# bends of 45, 90 and 180 degrees are what shops stock.
_SHAPES: tuple[tuple[int, ...], ...] = (
    (),
    (45,),
    (90,),
    (180,),
    (45, 45),
    (90, -90),
    (90, -180),
    (180, -180),
    (90, -180, 180),
    (180, -180, 180),
)


def fold_branch(request: FoldRequest, room: Room, radii_m: Sequence[float]) -> Fold:
    """Fold the branch; straight when it fits so, or when nothing fits a room nobody told.

    Raises
    ------
    SizingError
        The branch is too short to build, or no shape fits the room that was told.
    """
    shortest_m = max(request.first_m, request.last_m, SHORTEST_PIECE_M)
    if request.length_m < shortest_m:
        raise SizingError(
            f"a branch of {length(request.length_m)} is too short to build with this tube and "
            f"slide; it needs at least {length(shortest_m)}"
        )
    for turns in _turns_to_try(request.angle_rad):
        for radius_m in radii_m if turns else (math.nan,):
            fold = _fit(request, room, turns, radius_m)
            if fold is not None and not _touches_itself(fold, request):
                return fold
    if not room.is_told:
        return straight_fold(request)
    raise SizingError(
        f"a branch of {length(request.length_m)}, with {length(request.slide_m)} more for its "
        f"sliding cap, does not fold into {room.size} with bends of "
        f"{listed([length(r) for r in radii_m], 'or')} radius; give more room (--room, "
        "or beside in the car file), a tighter --bend-radius or a smaller --tube"
    )


def _turns_to_try(angle_rad: float) -> list[tuple[float, ...]]:
    """Every shape; a leaning branch may also be folded against its lean."""
    upright = math.isclose(angle_rad, math.pi / 2.0, abs_tol=1e-9)
    return [
        tuple(sign * math.radians(turn) for turn in shape)
        for shape in _SHAPES
        for sign in ((1.0,) if upright or not shape else (1.0, -1.0))
    ]


def _fit(
    request: FoldRequest, room: Room, turns: tuple[float, ...], radius_m: float
) -> Fold | None:
    """Fit one shape; None when it does not go into the room."""
    takes_m, straights = 0.0, [0.0]
    for _ in range(3):  # what the bends take depends on where they sit, but little
        solved = solve_straights(request, room, turns, radius_m, request.length_m + takes_m)
        if solved is None:
            return None
        # whole millimetres to saw; the last piece takes up what rounding leaves
        straights = [round(1e3 * length_m) / 1e3 for length_m in solved[:-1]]
        takes_m = _bends_take_m(request, straights, turns, radius_m)
    arcs_m = sum(abs(turn) * radius_m for turn in turns)
    return Fold(
        straight_m=(*straights, request.length_m + takes_m - arcs_m - sum(straights)),
        turn_rad=turns,
        bend_radius_m=radius_m,
        bends_take_m=takes_m,
    )


def _bends_take_m(
    request: FoldRequest, straights: list[float], turns: tuple[float, ...], radius_m: float
) -> float:
    bore_m, at_m, takes_m = request.tube.inner_diameter_m, 0.0, 0.0
    for straight_m, turn in zip(straights, turns, strict=True):
        at_m += straight_m
        takes_m += bend_takes_m(at_m, turn, radius_m, bore_m, request.quarter_wave_m)
        at_m += abs(turn) * radius_m
    return takes_m


def _touches_itself(fold: Fold, request: FoldRequest) -> bool:
    """Whether two legs come closer than the tube is wide."""
    if not fold.turn_rad:
        return False
    points = centreline(fold, request.angle_rad)
    way = points[-1] - points[-2]
    pulled_out = points[-1] + request.slide_m * way / np.linalg.norm(way)
    points = np.vstack([points, pulled_out])
    length_m = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    at_m = np.arange(0.0, length_m, _SAMPLE_M)
    fine = points_at(points, at_m)
    apart_m = np.linalg.norm(fine[:, np.newaxis] - fine[np.newaxis], axis=2)
    index = np.arange(at_m.size)
    apart_along_m = _SAMPLE_M * np.abs(index[:, np.newaxis] - index[np.newaxis])
    # nearer than half a turn along the tube, two points are of one bend
    other_leg = apart_along_m > math.pi * fold.bend_radius_m
    return bool(np.any(apart_m[other_leg] < request.tube.outer_diameter_m + _BETWEEN_LEGS_M))
