"""What the sheets say of the cap: fixed on the end, or on a sleeve that slides."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import SlidingCap
from analysis.build.workshop.plan import BranchPlan
from analysis.words.lengths import both, length

_FIXED = (
    "The gas temperature is known well enough for a cap that does not slide. Weld the disc on the "
    "square-cut end, all around and gas-tight: the length is measured to the disc's inside.",
)


def end_words(plan: BranchPlan) -> str:
    """Name the end that lengths are measured to."""
    of = "tube" if plan.can is None else "can"
    if plan.cap is None:
        return f"the end of the {of}, which is the inside face of the cap"
    return f"the open end of the {of}, over which the cap slides"


def cap_words(plan: BranchPlan) -> tuple[str, ...]:
    """How the end is closed."""
    if plan.cap is None:
        return _FIXED
    onto = "tube's" if plan.can is None else "can's"
    return (
        "How hot the gas in the branch will be is the least certain figure, so the right length is "
        f"a range. All pieces above are cut for it. Weld a disc on the sleeve, slide it over the "
        f"{onto} open end and clamp it. Pulled out, measured from where the disc touches the "
        f"{onto} end:",
    )


def slide_rows(plan: BranchPlan, cap: SlidingCap) -> list[tuple[str, ...]]:
    """Rows that say how far the sleeve is pulled out for what."""
    branch, reach_m = plan.branch, cap.reach_m
    neck_m, like = (0.0, "tube") if branch.can is None else (branch.can.neck_m, "can")
    can_ends = branch.shortest_m < reach_m.low - 1e-9
    short_m = (branch.longest_m - reach_m.high) / cap.counts_times
    room_ends = short_m > 1e-9
    return [
        ("Set for", "Sleeve pulled out by", f"Sounds like a {like} of"),
        ("end of the tube" if can_ends else "coldest gas", "nothing", both(reach_m.low - neck_m)),
        ("as sized: START HERE", length(cap.start_m), both(branch.length_m - neck_m)),
        (
            f"end of the room; hottest gas {length(short_m)} more" if room_ends else "hottest gas",
            length(cap.furthest_m),
            both(reach_m.high - neck_m),
        ),
    ]
