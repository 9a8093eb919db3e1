"""A cap that slides, because the gas temperature leaves the right length open.

A sleeve goes over the tube's end and carries the cap. Its bore is the tube's outside, so it is
wider than the tube: near the closed end a stretch counts by its volume, and 10 mm of sleeve pulled
out counts as 10 mm times (outside / bore)^2 of tube. On a can it goes over the can.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.basics.interval import Interval
from analysis.branches import Branch, Tube

_LEAST_GRIP_M = 0.040  # of sleeve on tube when pulled out; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class SlidingCap:
    """The sleeve, and how far it is pulled out from where the cap touches the tube's end.

    ``start_m``: to sound as sized. ``reach_m``: the lengths that it sounds like, from pushed in to
    pulled out.
    """

    reach_m: Interval
    start_m: float
    furthest_m: float
    sleeve_m: float
    counts_times: float


def capped_tube(branch: Branch) -> Tube:
    """Tube whose end the cap closes: the can's, or that of a plain branch."""
    return branch.tube if branch.can is None else branch.can.tube


def tube_end_m(branch: Branch) -> float:
    """How far from the datum the tube is cut: at the cap, or where a sliding one is pushed in."""
    return branch.length_m if branch.slide_m is None else branch.slide_m.low


def sliding_cap(branch: Branch) -> SlidingCap | None:
    """Reach all that the cap should slide over; None where a fixed one will do."""
    if branch.slide_m is None:
        return None
    tube, end_m = capped_tube(branch), tube_end_m(branch)
    times = (tube.outer_diameter_m / tube.inner_diameter_m) ** 2  # of tube, for a length of sleeve
    furthest_m = (branch.slide_m.high - end_m) / times
    grip_m = max(_LEAST_GRIP_M, 0.75 * tube.outer_diameter_m)
    if branch.can is not None:
        grip_m = max(_LEAST_GRIP_M, min(grip_m, end_m - branch.can.neck_m - furthest_m))
    return SlidingCap(
        reach_m=branch.slide_m,
        start_m=(branch.length_m - end_m) / times,
        furthest_m=furthest_m,
        sleeve_m=furthest_m + grip_m,
        counts_times=times,
    )
