"""What a shop stocks beside straight tube: mandrel bends, hole saws, and the wall of a pipe.

Bend radii in inches for tube of 1.5 to 3 in: read in a US tube stock table. All other sizes, and
all hole saws: common practice, no source. Measure what you buy.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.basics.units import INCH_M
from analysis.branches import Tube
from analysis.words.lengths import sixteenths
from analysis.words.shown import either

# Sizes in shops: common practice, no source. They choose which bend, saw or pipe is named; where
# none fits, sizes are worked out from the tube's own.
_SAME_M = 1e-4
# common practice, no source: outside diameter in inches: centreline radii in inches.
_BEND_RADII_IN: dict[float, tuple[float, ...]] = {
    1.5: (2.0, 2.5, 3.0, 4.0),
    1.75: (2.0, 3.0, 4.0, 5.0, 6.0),
    2.0: (2.5, 3.0, 3.5, 4.0, 5.0, 6.0),
    2.25: (3.0, 3.5, 4.0, 6.0),
    2.5: (3.0, 4.0, 5.0, 6.0),
    2.75: (4.0,),
    3.0: (4.0, 6.0),
}
_OTHER_RADII = (1.5, 2.0)  # times the outside diameter
_EASY_RADIUS = 1.4  # times the outside diameter; tighter ones pinch and cost length
_SAWS_IN = (
    *(1.375, 1.5, 1.625, 1.75, 1.875, 2.0, 2.125, 2.25, 2.375, 2.5, 2.5625, 2.625),
    *(2.75, 2.875, 3.0),
)
_SAWS_MM = (38, 41, 44, 48, 51, 54, 57, 60, 64, 67, 70, 73, 76)
_WIDER_THAN_BORE_M = 0.0005  # a hole this much over the bore still lies under the tube's wall
_PIPE_OUTSIDES_M = (
    *(inch * INCH_M for inch in (1.5, 1.75, 1.875, 2.0, 2.25, 2.5, 2.75, 3.0, 3.5, 4.0)),
    *(mm / 1e3 for mm in (38, 42, 45, 48, 50, 54, 55, 60, 63.5, 65, 70, 76)),
)
_PIPE_WALLS_M = (0.065 * INCH_M, 0.0015, 0.049 * INCH_M, 0.0012, 0.002)
_LIKELY_WALL_M = 0.0015
_BORE_MISS_M = 0.0003


def bend_radii_m(outer_diameter_m: float) -> tuple[float, ...]:
    """Centreline radii of stock bends, the one to take first at the front.

    The tightest of at least 1.4 times the outside diameter comes first, then wider ones, then
    tighter ones.
    """
    radii_m = _stock_radii_m(outer_diameter_m)
    easy = [r for r in radii_m if r >= _EASY_RADIUS * outer_diameter_m]
    tight = [r for r in radii_m if r < _EASY_RADIUS * outer_diameter_m]
    return (*easy, *reversed(tight))


def _stock_radii_m(outer_diameter_m: float) -> tuple[float, ...]:
    for outside_in, radii_in in _BEND_RADII_IN.items():
        if math.isclose(outside_in * INCH_M, outer_diameter_m, abs_tol=_SAME_M):
            return tuple(INCH_M * radius for radius in radii_in)
    return tuple(times * outer_diameter_m for times in _OTHER_RADII)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleSaw:
    """A hole saw as it is called in the shop."""

    name: str
    diameter_m: float


def hole_saws(bore_m: float) -> tuple[HoleSaw, ...]:
    """Widest inch and widest metric saw for a hole of this bore; none for some sizes."""
    inch = [HoleSaw(name=sixteenths(d * INCH_M), diameter_m=d * INCH_M) for d in _SAWS_IN]
    metric = [HoleSaw(name=f"{d} mm", diameter_m=d / 1e3) for d in _SAWS_MM]
    chosen = []
    for saws in (inch, metric):
        fitting = [s for s in saws if s.diameter_m <= bore_m + _WIDER_THAN_BORE_M]
        if fitting:
            chosen.append(max(fitting, key=lambda saw: saw.diameter_m))
    return tuple(chosen)


def saw_names(saws: Sequence[HoleSaw]) -> str:
    """Name the inch and the metric one of `hole_saws`, or the one of them in the units shown."""
    first, last = saws[0].name, saws[-1].name
    return either(last, first, first if len(saws) == 1 else f"{first} or {last}")


def likely_pipe(bore_m: float) -> Tube:
    """Pipe of this bore as a shop would sell it; with a wall of 1.5 mm where none fits."""
    for wall_m in _PIPE_WALLS_M:
        for outside_m in _PIPE_OUTSIDES_M:
            if abs(outside_m - 2.0 * wall_m - bore_m) <= _BORE_MISS_M:
                return pipe_with_wall(bore_m, (outside_m - bore_m) / 2.0)
    return pipe_with_wall(bore_m, _LIKELY_WALL_M)


def pipe_with_wall(bore_m: float, wall_m: float) -> Tube:
    """Pipe of a known bore and wall."""
    outside_m = bore_m + 2.0 * wall_m
    return Tube(
        outer_diameter_m=outside_m,
        wall_m=wall_m,
        name=f"{1e3 * outside_m:.1f} mm x {1e3 * wall_m:.2f} mm",
    )
