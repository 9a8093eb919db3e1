"""Where a branch tube meets the pipe: the curve to cut the tube to, and the hole in the pipe.

The branch is set on: its end follows the pipe's outside, and the hole is as wide as its bore. Two
round cylinders whose axes cross, the textbook intersection: seen along the branch's axis, a point
at the angle ``around`` from the axes' plane lies at ::

    z = (sqrt(R^2 - r^2 sin^2 around) - r cos around cos angle) / sin angle

from the crossing of the axes, R the pipe's outside radius, r the branch's. ``around`` is zero on
the side where branch and pipe make the wide angle, and 180 degrees where they make the small one.

Which r: the template wraps around the tube's outside, so its line is the curve of the outside edge
(r = half the outside diameter); there the joint closes and the weld is laid. The tube's inside
edge (r = half the bore) meets the pipe a little further on or back, by up to several millimetres at
the sides of a branch nearly as wide as the pipe; cut square through the wall it would foul there,
so that edge is drawn as a second line to file back to.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.branches import Tube
from analysis.errors import SizingError
from analysis.words.lengths import diameter

# judgement: a flatter saddle is longer than a template can be wrapped, so it is refused.
SMALLEST_ANGLE_RAD = math.radians(30.0)
_SAME_M = 1e-6


def saddle_m(
    around_rad: FloatArray, *, pipe_radius_m: float, branch_radius_m: float, angle_rad: float
) -> FloatArray:
    """Distance along the branch's axis from the axes' crossing to the pipe's surface.

    Parameters
    ----------
    around_rad : ndarray [shape=(n,)]
    pipe_radius_m : float >= branch_radius_m
    angle_rad : float, between the axes, 0 < angle <= pi / 2

    Returns
    -------
    ndarray [shape=(n,)]
    """
    across_m = branch_radius_m * np.sin(around_rad)
    # a branch as wide as its pipe: a rounding must not leave a root of less than nothing
    rise_m = np.sqrt(np.maximum(pipe_radius_m**2 - across_m**2, 0.0))
    lean_m = branch_radius_m * np.cos(around_rad) * math.cos(angle_rad)
    return np.asarray((rise_m - lean_m) / math.sin(angle_rad))


@dataclass(frozen=True, slots=True, kw_only=True)
class Saddle:
    """One branch on its pipe.

    Distances run along the branch's axis from the datum, the point where that axis meets the plane
    that touches the pipe's inner wall at its crown; away from the pipe is positive.
    """

    pipe: Tube
    branch: Tube
    angle_rad: float

    def __post_init__(self) -> None:
        if not SMALLEST_ANGLE_RAD - 1e-9 <= self.angle_rad <= math.pi / 2.0 + 1e-9:
            raise SizingError(
                f"a branch may stand at 30 to 90 degrees to its pipe, got "
                f"{math.degrees(self.angle_rad):g}; 90 is easiest to cut and to weld"
            )
        if self.branch.outer_diameter_m > self.pipe.outer_diameter_m + _SAME_M:
            raise SizingError(
                f"a branch of {diameter(self.branch.outer_diameter_m)} outside does not sit on "
                f"a pipe of {diameter(self.pipe.outer_diameter_m)} outside; choose a smaller "
                "--tube, or measure the pipe's wall and give --wall"
            )

    @property
    def is_square(self) -> bool:
        """Whether the branch stands upright on its pipe."""
        return math.isclose(self.angle_rad, math.pi / 2.0, abs_tol=1e-9)

    @property
    def datum_m(self) -> float:
        """Distance of the datum from the crossing of the axes."""
        return self.pipe.inner_diameter_m / 2.0 / math.sin(self.angle_rad)

    def outer_edge_m(self, around_rad: FloatArray) -> FloatArray:
        """Where the tube's outside edge meets the pipe; arrays [shape=(n,)]."""
        return self._edge_m(around_rad, self.branch.outer_diameter_m / 2.0)

    def inner_edge_m(self, around_rad: FloatArray) -> FloatArray:
        """Where the tube's inside edge meets the pipe; arrays [shape=(n,)]."""
        return self._edge_m(around_rad, self.branch.inner_diameter_m / 2.0)

    @property
    def nearest_m(self) -> float:
        """Least of the outside edge: how far the tube reaches towards the pipe's axis.

        There dz/d(around) = 0: cos(around) = cos(angle) sqrt(R^2 - r^2) / (r sin(angle)), or the
        wide-angle side itself when that is past 1.
        """
        pipe_m, branch_m = self.pipe.outer_diameter_m / 2.0, self.branch.outer_diameter_m / 2.0
        beside_m = math.sqrt(max(pipe_m**2 - branch_m**2, 0.0))
        cosine = math.cos(self.angle_rad) * beside_m / (branch_m * math.sin(self.angle_rad))
        return float(self.outer_edge_m(np.array([math.acos(min(cosine, 1.0))]))[0])

    @property
    def farthest_m(self) -> float:
        """Most of the outside edge, always on the small-angle side."""
        return float(self.outer_edge_m(np.array([math.pi]))[0])

    @property
    def depth_m(self) -> float:
        """How deep the saddle is cut into a tube that was cut square."""
        return self.farthest_m - self.nearest_m

    def hole_outline_m(self, around_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Outline of the hole, on paper wrapped around the pipe's outside.

        Returns
        -------
        along_m, across_m : ndarray [shape=(n,)]
            Along the pipe from above the datum, towards the side the branch leans to; and around
            the pipe from its crown.
        """
        return self._outline_m(around_rad, self.branch.inner_diameter_m / 2.0)

    def seat_outline_m(self, around_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where the branch's outside edge sits on the pipe, on the same paper as the hole."""
        return self._outline_m(around_rad, self.branch.outer_diameter_m / 2.0)

    def _outline_m(
        self, around_rad: FloatArray, branch_radius_m: float
    ) -> tuple[FloatArray, FloatArray]:
        pipe_m = self.pipe.outer_diameter_m / 2.0
        lean, rise = math.cos(self.angle_rad), math.sin(self.angle_rad)
        edge_m = self._edge_m(around_rad, branch_radius_m)
        along_m = edge_m * lean - branch_radius_m * np.cos(around_rad) * rise
        share = np.clip(branch_radius_m * np.sin(around_rad) / pipe_m, -1.0, 1.0)
        return np.asarray(along_m), np.asarray(pipe_m * np.arcsin(share))

    def _edge_m(self, around_rad: FloatArray, branch_radius_m: float) -> FloatArray:
        from_crossing_m = saddle_m(
            around_rad,
            pipe_radius_m=self.pipe.outer_diameter_m / 2.0,
            branch_radius_m=branch_radius_m,
            angle_rad=self.angle_rad,
        )
        return from_crossing_m - self.datum_m
