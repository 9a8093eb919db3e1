"""What the sheets say of a can on a neck: pieces, and what differs in the work."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.build.sheets.table import piece_row
from analysis.build.workshop.can_plan import DISC_M, CanPlan
from analysis.build.workshop.plan import BranchPlan, BuildPlan
from analysis.words.lengths import both, caliper, millimetres, tube_measures

_BETWEEN_CANS_M = 0.030  # judgement: sleeves, clamps and air; no piece changes
_DISC = f"{millimetres(DISC_M)} (1/8 in) steel"


def neck_words(plan: BranchPlan, can: CanPlan) -> str:
    """How the whole length is shared."""
    end = "the inside of the end disc" if plan.cap is None else "its open end"
    return (
        f"neck {both(plan.fold.centreline_m)}, from the datum to the inside of the front disc, and "
        f"can {both(can.length_m)}, from there to {end}."
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
            f"flat, {_DISC}, {caliper(tube.outer_diameter_m)} across, with a hole in its middle "
            f"for the neck's outside, {caliper(neck.outer_diameter_m)}. The neck ends flush with "
            "its inside.",
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
            f"{_DISC}; hole in its middle {caliper(plan.branch.tube.outer_diameter_m)}, for the "
            "neck's outside: see the disc template",
        ),
        piece_row(first + 1, "can tube", can.length_m, "both ends square"),
        piece_row(first + 2, "end disc, across", across_m, f"{_DISC}; the cap, no hole: {wide}"),
    ]


def neck_sums(plan: BranchPlan, can: CanPlan) -> list[str]:
    """How the sum is made up, and what a bend changes."""
    said = [
        f"That is {neck_words(plan, can)} Discs add nothing: all is measured between their insides."
    ]
    if plan.fold.turn_rad:
        said.append(
            f"The bend sounds {millimetres(plan.fold.bends_take_m)} shorter than it measures, "
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


def with_can(steps: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """Order of work for branches with a can, from that for plain ones."""
    done = []
    for label, text in steps:
        text = text.replace("a length of tube where", "a tube as wide as the can where")
        done.append((label, _CHANGED.get(label, text)))
        if label == "Cut the pieces":
            done.append(_MAKE_THE_CAN)
    return done


_MAKE_THE_CAN = (
    "Make the can",
    "On the bench. If the neck has a bend, weld its pieces first, the bend turned towards mark C "
    "of the saddle, so that the can will lie along the pipe. Push the neck's square end through "
    "the hole in the front disc, in the middle and square to it, until it is flush with the disc's "
    "inside: nothing may stand into the can. Weld all around from outside. Then centre the can's "
    "tube on the disc's inside, tack three times and weld all around; where the sleeve reaches as "
    "far as that weld, grind it level with the can. Weld the end disc on the sleeve. Leak test "
    "these welds now, cold: clamp the closed sleeve on, blow in at the neck with a vacuum "
    "cleaner's blowing end, brush soapy water on them: bubbles are leaks. Take the sleeve off.",
)
_CHANGED = {
    "Cut the pieces": (
        "Cut neck, bend and can as the cut list says, square and without burrs, and both discs. "
        "Cut the neck's saddle by its template, file it until its outside edge sits on the pipe "
        "with no gap that lets light through, and check it by the figures in the cut list: once "
        "the can is on, the neck's other end can no longer be measured from."
    ),
    "Tack": (
        "Bright metal on both sides. Set the neck on the hole, mark A on the line along the pipe, "
        "its inside over the hole, at the angle of the drawing, the sleeve off, the can held up by "
        "a jack or a wire. Three tacks."
    ),
    "Check": (
        "Before the welds: neck along its middle from the pipe to the front disc; can from the "
        "front disc to its end; air between can and pipe as on the drawing; room around it with "
        "the car on its wheels and the sleeve pulled out; the lowest point of the can, for the "
        "drain hole."
    ),
    "Weld": (
        "Neck to pipe: all around, gas-tight, in short runs on opposite sides so that the pipe "
        "stays straight. Nothing may drip through to the inside. A can is heavy and shakes: "
        "support it near its end from the pipe itself, not from the body, before the first drive."
    ),
    "Drain": (
        "Water collects in the can. Drill one hole of at most 3 mm (1/8 in) at the lowest point of "
        "the can, not in the neck, away from the cabin, and not into a neighbour's line or tyre. "
        "Where the sleeve covers that point, drill beside the front disc instead. A can that "
        "stands straight up on its neck needs none."
    ),
    "Set the cap": (
        "Slide the sleeve over the can to 'start here' in the cut "
        "list and clamp it, the clamps' bolts away from the pipe, paste in the gap."
    ),
}
