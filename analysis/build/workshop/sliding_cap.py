"""A cap that slides, because the gas temperature leaves the right length open.

A sleeve goes over the tube's end and carries the cap. Its bore is the tube's outside, so it is
wider than the tube: near the closed end a stretch counts by its volume, and 10 mm of sleeve pulled
out counts as 10 mm times (outside / bore)^2 of tube. On a can it goes over the can.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.branches import Branch, Tube
from analysis.errors import SizingError

_LEAST_GRIP_M = 0.040  # of sleeve on tube when pulled out; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class SlidingCap:
    """The sleeve, and how far it is pulled out from where the cap touches the tube's end.

    ``shorter_m``: by how much the tube is cut shorter than for a fixed cap.
    """

    shorter_m: float
    as_sized_m: float
    furthest_m: float
    sleeve_m: float
    counts_times: float


def capped_tube(branch: Branch) -> Tube:
    """Tube whose end the cap closes: the can's, or that of a plain branch."""
    return branch.tube if branch.can is None else branch.can.tube


def sliding_cap(branch: Branch) -> SlidingCap:
    """Reach from the length for the coldest credible gas to that for the hottest.

    Raises
    ------
    SizingError
        A can too short to hold the sleeve.
    """
    tube = capped_tube(branch)
    times = (tube.outer_diameter_m / tube.inner_diameter_m) ** 2  # of tube, for a length of sleeve
    shorter_m = max(branch.length_m - branch.shortest_m, 0.0)
    longer_m = max(branch.longest_m - branch.length_m, 0.0)
    furthest_m = (shorter_m + longer_m) / times
    grip_m = max(_LEAST_GRIP_M, 0.75 * tube.outer_diameter_m)
    if branch.can is not None:
        cut_m = branch.length_m - branch.can.neck_m - shorter_m
        if cut_m < _LEAST_GRIP_M:
            raise SizingError(
                f"for the coldest gas the can is {1e3 * max(cut_m, 0.0):.0f} mm long, too short "
                f"for a sleeve, which needs {1e3 * _LEAST_GRIP_M:.0f} mm; give the gas "
                "temperatures in the car file, so that the cap need not slide as far"
            )
        grip_m = max(_LEAST_GRIP_M, min(grip_m, cut_m - furthest_m))
    return SlidingCap(
        shorter_m=shorter_m,
        as_sized_m=shorter_m / times,
        furthest_m=furthest_m,
        sleeve_m=furthest_m + grip_m,
        counts_times=times,
    )
