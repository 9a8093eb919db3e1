"""Straight pieces of one shape of fold: a linear programme.

The headings of all legs are known, so every corner of the tube is a sum of known vectors times the
unknown straight lengths, plus what the bends add. Each must lie within the box.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.build.workshop.folds import FoldRequest, Room, side, unit

SHORTEST_PIECE_M = 0.040  # what a vice or a clamp still holds; common practice, no source
# Air between the pipe and a leg beside it; judgement: less leaves no room for a clamp.
ABOVE_PIPE_M = 0.025
SPARE_M = 0.001  # kept free in the box, so that pieces may be rounded to whole millimetres


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """A point on the tube's middle, ``place @ straights + fixed_m``, and the tube's half-width.

    ``place`` [shape=(2, n_straights)], ``fixed_m`` and ``half_m`` [shape=(2,)]: along the pipe and
    away from it.
    """

    place: FloatArray
    fixed_m: FloatArray
    half_m: FloatArray
    clear_of_pipe: bool


def solve_straights(
    request: FoldRequest,
    room: Room,
    turns: tuple[float, ...],
    radius_m: float,
    centreline_m: float,
) -> list[float] | None:
    """Straight lengths; None when none fit."""
    from scipy.optimize import linprog  # slow to load, and few branches are folded

    count = len(turns) + 1
    shortest = np.full(count, SHORTEST_PIECE_M)
    shortest[0] = max(request.first_m, SHORTEST_PIECE_M)
    shortest[-1] = max(request.last_m, shortest[-1])
    rows, limits = _within_box(list(_spots(request, turns, radius_m)), request, room)
    found = linprog(
        # A short first piece keeps the branch close to the pipe; the rest only breaks ties.
        [1.0, *[0.1] * (count - 1), 0.01],
        A_ub=rows,
        b_ub=limits,
        A_eq=[[*[1.0] * count, 0.0]],
        b_eq=[centreline_m - sum(abs(turn) * radius_m for turn in turns)],
        bounds=[*((float(low) + SPARE_M, None) for low in shortest), (0.0, None)],
        method="highs",
    )
    if not found.success or found.x is None:
        return None
    return [float(straight_m) for straight_m in found.x[:-1]]  # the last is the box's side


def _spots(request: FoldRequest, turns: tuple[float, ...], radius_m: float) -> Iterator[_Spot]:
    """Every point where the tube may stick out furthest: ends of legs, bulges of bends."""
    half_m = request.tube.outer_diameter_m / 2.0
    heading = request.angle_rad
    place, fixed = np.zeros((2, len(turns) + 1)), np.zeros(2)
    for index in range(len(turns) + 1):
        across = half_m * np.abs([math.sin(heading), math.cos(heading)])
        first, last = index == 0, index == len(turns)
        # the first leg stands on the pipe, so it alone need not be clear of it
        yield _Spot(place=place, fixed_m=fixed, half_m=across, clear_of_pipe=not first)
        place = place.copy()
        place[:, index] = unit(heading)
        end = fixed + request.slide_m * unit(heading) if last else fixed
        yield _Spot(place=place, fixed_m=end, half_m=across, clear_of_pipe=not first)
        if last:
            return
        centre = fixed + radius_m * side(heading, turns[index])
        for bulge in _bulges(heading, turns[index]):
            yield _Spot(
                place=place,
                fixed_m=centre + radius_m * bulge,
                half_m=half_m * np.abs(bulge),
                clear_of_pipe=True,
            )
        heading -= turns[index]
        fixed = centre - radius_m * side(heading, turns[index])


def _bulges(heading: float, turn: float) -> list[FloatArray]:
    """Directions along and away from the pipe that lie within an arc, seen from its centre."""
    middle = -side(heading - turn / 2.0, turn)
    axes = [np.array(axis, dtype=np.float64) for axis in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    return [axis for axis in axes if axis @ middle >= math.cos(turn / 2.0) - 1e-9]


def _within_box(
    spots: list[_Spot], request: FoldRequest, room: Room
) -> tuple[FloatArray, FloatArray]:
    """Rows and limits of ``rows @ (straights, from_side) <= limits``."""
    outside_m = request.above_datum_m
    rows: list[FloatArray] = []
    limits: list[float] = []
    for spot in spots:
        along, away = spot.place
        rows += [np.append(along, 1.0), np.append(-along, -1.0), np.append(away, 0.0)]
        limits += [
            room.run_m - SPARE_M - spot.fixed_m[0] - spot.half_m[0],
            -SPARE_M + spot.fixed_m[0] - spot.half_m[0],
            outside_m + room.reach_m - SPARE_M - spot.fixed_m[1] - spot.half_m[1],
        ]
        if spot.clear_of_pipe:
            rows.append(np.append(-away, 0.0))
            above_m = outside_m + ABOVE_PIPE_M + SPARE_M
            limits.append(-above_m + spot.fixed_m[1] - spot.half_m[1])
    # an open side of the room sets no limit
    told = np.isfinite(limits)
    return np.array(rows)[told], np.array(limits)[told]
