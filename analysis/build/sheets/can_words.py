"""What the sheets say of a can on a neck: pieces, and what differs in the work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.build.sheets.table import piece_row
from analysis.build.workshop.can_plan import DISC_STEEL, CanPlan
from analysis.build.workshop.plan import BranchPlan, BuildPlan
from analysis.words.lengths import both, caliper, tube_measures

_BETWEEN_CANS_M = 0.030  # judgement: sleeves, clamps and air; no piece changes


def neck_words(plan: BranchPlan, can: CanPlan) -> str:
    """How the whole length is shared."""
    end = "the inside of the end disc" if plan.cap is None else "its open end"
    return (
        f"neck {both(plan.fold.centreline_m)}, from the zero line to the inside of the front disc, "
        f"and can {both(can.length_m)}, from there to {end}."
    )


def can_rows(plan: BranchPlan, can: CanPlan) -> list[tuple[str, str]]:
    """Rows of the table under the drawing."""
    tube, neck = can.tube, plan.branch.tube
    sleeve = "" if plan.cap is None else ", or its sleeve,"
    lies = "lies along the pipe" if plan.fold.turn_rad else "stands on a straight neck"
    return [
        ("Can", tube_measures(tube)),
        (
            "Front disc",
            f"flat, {DISC_STEEL}, {caliper(tube.outer_diameter_m)} across, with a hole in its "
            f"middle for the neck's outside, {caliper(neck.outer_diameter_m)}. The neck ends flush "
            "with its inside.",
        ),
        (
            "End disc",
            "flat, the cap: closes the "
            + ("can" if plan.cap is None else "sleeve that slides on the can"),
        ),
        (
            "Air",
            f"the can {lies}; {both(can.clear_of_pipe_m)} between it{sleeve} and the pipe's "
            "outside",
        ),
    ]


def can_piece_rows(plan: BranchPlan, can: CanPlan, first: int) -> list[tuple[str, ...]]:
    """Rows of the cut list behind the neck's."""
    outside_m = can.tube.outer_diameter_m
    across_m, wide = outside_m, "as wide as the can"
    if plan.cap is not None:
        across_m = outside_m + 2.0 * can.tube.wall_m
        wide = "as wide as the sleeve's outside, measure it"
    return [
        piece_row(
            first,
            "front disc, across",
            outside_m,
            f"{DISC_STEEL}; hole in its middle {caliper(plan.branch.tube.outer_diameter_m)}, for "
            "the neck's outside: see the disc template",
        ),
        piece_row(first + 1, "can tube", can.length_m, "both ends square"),
        piece_row(
            first + 2, "end disc, across", across_m, f"{DISC_STEEL}; the cap, no hole: {wide}"
        ),
    ]


def neck_sums(plan: BranchPlan, can: CanPlan) -> list[str]:
    """How the sum is made up, and what a bend changes."""
    said = [
        f"That is {neck_words(plan, can)} Discs add nothing: all is measured between their insides."
    ]
    if plan.fold.turn_rad:
        said.append(
            f"The bend sounds {both(plan.fold.bends_take_m)} shorter than it measures, "
            f"which is in the neck's last piece: it sounds like a straight neck of "
            f"{both(plan.fold.acoustic_m)}."
        )
    return said


def apart_words(plan: BranchPlan, build: BuildPlan) -> str:
    """How two branches keep clear of each other; nothing where they do so anyway."""
    spacing_m, can = build.sizing.spacing_m, plan.can
    if spacing_m is None or can is None:
        return ""
    if not plan.fold.turn_rad:
        needed_m = can.tube.outer_diameter_m + _BETWEEN_CANS_M
        if spacing_m >= needed_m:
            return ""
        return (
            f". Side by side the cans need {both(needed_m)}: turn one branch around the pipe by a "
            "quarter turn"
        )
    # with the cap pulled out: no can lies further along the pipe than that
    longest_m = max(p.centreline_m + p.furthest_m for p in build.branches)
    if spacing_m > longest_m + _BETWEEN_CANS_M:
        return ""
    others = [other.branch.position_m for other in build.branches if other is not plan]
    own_m = plan.branch.position_m
    if own_m is None or None in others:
        return ". Lay the cans away from each other"
    first = all(other is not None and own_m < other for other in others)
    ways = (
        ("collector (the drawing's mirror image)", "outlet") if first else ("outlet", "collector")
    )
    return f". Lay this can towards the {ways[0]}, the other one towards the {ways[1]}"
