"""What to build, in few words: where, which tube, how long, how far the cap slides, how many."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import Counter
from collections.abc import Iterator, Sequence

from analysis.branches import Branch, Sizing
from analysis.build.workshop.plan import AS_USUAL, BranchPlan, BuildPlan, BuildWishes, plan_build
from analysis.errors import SizingError
from analysis.size.advice import DO_NOT_CUT, NO_HILL, no_room
from analysis.words.lengths import degrees, diameter, length, saw_length, told_length
from analysis.words.places import measured_from, one_on_each, thumb_place
from analysis.words.sentences import listed

SHAPE = "It is"  # names the row of how a branch is bent
_SHORT_M = 0.002  # judgement: a slide that ends so little too soon is not told


def how_many(sizing: Sizing) -> str:
    """Say how many to make in all."""
    count, total = len(sizing.branches), sum(branch.welds for branch in sizing.branches)
    begin = "Build" if sizing.by_thumb is None else "A preview, not to build yet:"
    misfit = no_room(sizing)
    if misfit is not None and misfit.code in DO_NOT_CUT:
        begin = "Not to build, only the best that was found:"
    elif misfit is not None and misfit.code == NO_HILL:
        begin = "Only if it is the cabin, build"
    what = f"{begin} one branch" if total == 1 else f"{begin} {total} branches"
    legs = [branch.legs for branch in sizing.branches]
    if not any(legs):
        return what
    if len(set(legs)) == 1 and len(legs[0]) > 1:
        return f"{what}: {count} on each pipe ({listed(list(legs[0]))})"
    return f"{what}: {listed([_so_many_on(each, n) for each, n in Counter(legs).items()])}"


def _so_many_on(legs: tuple[str, ...], count: int) -> str:
    """E.g. 'one on the front pipe', '2 on the front pipe', 'one on each pipe (left and right)'."""
    where = one_on_each(legs)
    if where.startswith("one "):
        return where
    return f"{'one' if count == 1 else count} {where}"


def card_rows(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> Iterator[tuple[str, ...]]:
    """Give each measure by its name, and what it is for each branch, as the build sheets have it.

    A bend measures longer than it sounds, so what is cut hangs on the ``wishes`` of the builder.
    """
    branches, plans = sizing.branches, plans_of(sizing, wishes)
    is_placed = all(branch.position_m is not None for branch in branches)
    where = "Weld it at" if is_placed else "Where"
    yield (where, *(_place(sizing, branch, n) for n, branch in enumerate(branches, start=1)))
    canned = any(branch.can for branch in branches)
    yield ("Tube of the neck" if canned else "Tube", *(branch.tube.name for branch in branches))
    if canned:
        yield ("Neck, pipe to can", *map(_neck, branches, plans))
        yield ("Tube of the can", *(b.can.tube.name if b.can else "none" for b in branches))
    made = [] if canned else [plan for plan in plans if plan is not None]
    if any(plan.fold.turn_rad for plan in made):
        yield (SHAPE, *map(_shape, made))
    elif made:
        yield ("Saw the tube to", *map(_blank, made))
    yield ("The tube's end" if not canned else "The can's end", *map(_end, branches, plans))
    yield ("Cap", *(_cap(branch) for branch in branches))
    yield ("Hole in the pipe", *(diameter(branch.tube.inner_diameter_m) for branch in branches))


def plans_of(sizing: Sizing, wishes: BuildWishes) -> Sequence[BranchPlan | None]:
    """Work out the pieces; None for each where a branch cannot be made as sized."""
    build = plan_of(sizing, wishes)
    return [None] * len(sizing.branches) if build is None else build.branches


def plan_of(sizing: Sizing, wishes: BuildWishes) -> BuildPlan | None:
    """Work out all pieces; None where a branch cannot be made as sized."""
    try:
        return plan_build(sizing, wishes)
    except SizingError:
        return None


def _place(sizing: Sizing, branch: Branch, number: int) -> str:
    if branch.position_m is None:
        thumb = sizing.by_thumb
        return "not worked out" if thumb is None else thumb_place(thumb, number)
    return f"{length(branch.position_m)} {measured_from(branch.legs)}"


def _blank(plan: BranchPlan) -> str:
    """Length to saw, before the saddle."""
    return f"{saw_length(plan.first_blank_m)}, square"


def _shape(plan: BranchPlan) -> str:
    """E.g. 'bent by 90°, radius 76 mm (3 in)'."""
    fold = plan.fold
    if not fold.turn_rad:
        return f"straight, sawn to {_blank(plan)}"
    return f"{_turns(plan)}, radius {length(fold.bend_radius_m)}"


def _turns(plan: BranchPlan) -> str:
    return f"bent by {listed([degrees(abs(turn)) for turn in plan.fold.turn_rad])}"


def _end(branch: Branch, plan: BranchPlan | None) -> str:
    if plan is None or not plan.fold.turn_rad:
        return f"{saw_length(branch.tube_end_m)} from the pipe's inner wall"
    return f"{saw_length(plan.centreline_m)} from the pipe's inner wall, along its middle"


def _neck(branch: Branch, plan: BranchPlan | None) -> str:
    if branch.can is None:
        return "none"
    if plan is None or not plan.fold.turn_rad:
        return saw_length(branch.can.neck_m)
    return f"{saw_length(plan.fold.centreline_m)}, {_turns(plan)}"


def _cap(branch: Branch) -> str:
    cap = branch.cap
    if cap is None:
        return "fixed: a disc welded on the end"
    out = length(cap.start_m)
    short_m = (branch.longest_m - cap.reach_m.high) / cap.counts_times
    ends = f"; the hottest gas would need {told_length(short_m)} more" if short_m > _SHORT_M else ""
    return f"slides 0 to {told_length(cap.furthest_m)}: start with {out} out{ends}"
