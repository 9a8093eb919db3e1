"""A branch folded into a room: what is asked, and what came out, as plain numbers."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import Tube
from analysis.words.lengths import length


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Box for the branch: out from the pipe's outside, and along (or across) the pipe.

    ``run_m`` is infinite where the branch may run along as far as it takes. One that nobody
    ``is_told`` of, straight tube may leave where no bend goes into it.
    """

    reach_m: float
    run_m: float
    is_told: bool = True

    @property
    def size(self) -> str:
        """As a refusal names it."""
        if math.isinf(self.run_m):
            return f"{length(self.reach_m)} beside the pipe"
        return f"{length(self.reach_m)} x {length(self.run_m)}"


# Most cars have 200 to 300 mm beside the pipe: common practice, no source. Straight tube of half a
# metre and more would hang across under them.
USUAL_ROOM = Room(reach_m=0.25, run_m=math.inf, is_told=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldRequest:
    """What is to be folded.

    Attributes
    ----------
    length_m : of the straight branch, from the datum to its end
    slide_m : how far beyond that end the cap may stand
    quarter_wave_m : from the datum, at the tuned frequency
    first_m, last_m : shortest first and last piece
    above_datum_m : from the datum to the pipe's outside, away from the pipe
    angle_rad : between branch and pipe, at the pipe
    """

    length_m: float
    tube: Tube
    slide_m: float
    first_m: float
    last_m: float
    above_datum_m: float
    angle_rad: float
    quarter_wave_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """How a branch is put together, from the pipe to the cap.

    Attributes
    ----------
    straight_m : centreline lengths of the straight pieces, the first from the datum
    turn_rad : turns of the bends between them, positive to the side the branch is folded to
    bend_radius_m : centreline radius of every bend; NaN when there is none
    bends_take_m : how much less the bends count than their centreline
    """

    straight_m: tuple[float, ...]
    turn_rad: tuple[float, ...]
    bend_radius_m: float
    bends_take_m: float

    @property
    def arc_m(self) -> tuple[float, ...]:
        """Centreline lengths of the bends."""
        return tuple(abs(turn) * self.bend_radius_m for turn in self.turn_rad)

    @property
    def centreline_m(self) -> float:
        """From the datum to the inside face of the cap, along the middle of the tube."""
        return sum(self.straight_m) + sum(self.arc_m)

    @property
    def acoustic_m(self) -> float:
        """Length of the straight branch that sounds the same."""
        return self.centreline_m - self.bends_take_m


def straight_fold(request: FoldRequest) -> Fold:
    """Give the branch as one straight piece."""
    return Fold(
        straight_m=(request.length_m,),
        turn_rad=(),
        bend_radius_m=math.nan,
        bends_take_m=0.0,
    )


def centreline(fold: Fold, angle_rad: float, step_m: float = 0.005) -> FloatArray:
    """Points along the middle of the tube from the datum, along and away from the pipe.

    Returns
    -------
    ndarray [shape=(n, 2)], in metres; on bends at most ``step_m`` apart
    """
    points, heading = [np.zeros(2)], angle_rad
    for index, straight_m in enumerate(fold.straight_m):
        points.append(points[-1] + straight_m * unit(heading))
        if index == len(fold.turn_rad):
            break
        turn = fold.turn_rad[index]
        centre = points[-1] + fold.bend_radius_m * side(heading, turn)
        steps = max(2, math.ceil(fold.arc_m[index] / step_m))
        points += [
            centre - fold.bend_radius_m * side(heading - share * turn, turn)
            for share in np.arange(1, steps + 1) / steps
        ]
        heading -= turn
    return np.array(points)


def points_at(line: FloatArray, at: FloatArray) -> FloatArray:
    """Points on a line through points [shape=(n, 2)] at distances along it [shape=(k, 2)]."""
    along = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1)))
    return np.column_stack([np.interp(at, along, axis) for axis in line.T])


def inertance_share(radius_m: float, bore_m: float) -> float:
    """Inertance of a bend over that of straight tube as long as its centreline.

    In a bend the gas keeps to the inside, its speed as 1 / radius: (1 + sqrt(1 - B^2)) / 2,
    B = half the bore over the centreline radius. Keefe and Benade, J. Acoust. Soc. Am. 74 (1983)
    320, page from memory. Its volume is that of the centreline (Pappus).
    """
    return (1.0 + math.sqrt(1.0 - (bore_m / 2.0 / radius_m) ** 2)) / 2.0


def bend_takes_m(
    start_m: float, turn_rad: float, radius_m: float, bore_m: float, length_m: float
) -> float:
    """How much shorter than its centreline a bend sounds in a closed quarter-wave branch.

    Inertance counts as the flow squared, cos^2(pi x / 2L), x from the mouth and L the branch's
    length: a bend at the mouth shortens the branch, one at the cap does not.
    """
    end_m = start_m + abs(turn_rad) * radius_m
    wave = math.pi / length_m
    flow_m = (end_m - start_m) / 2.0
    flow_m += (math.sin(wave * end_m) - math.sin(wave * start_m)) / (2.0 * wave)
    return (1.0 - inertance_share(radius_m, bore_m)) * flow_m


def unit(heading_rad: float) -> FloatArray:
    """Direction of a heading; zero is along the pipe, a quarter turn away from it."""
    return np.array([math.cos(heading_rad), math.sin(heading_rad)])


def side(heading_rad: float, turn_rad: float) -> FloatArray:
    """Point from the middle of the tube to the centre of the bend that follows; a unit vector."""
    sign = math.copysign(1.0, turn_rad)
    return np.array([sign * math.sin(heading_rad), -sign * math.cos(heading_rad)])
