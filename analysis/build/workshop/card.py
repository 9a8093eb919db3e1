"""What to build, in few words: where, which tube, how long, how far the cap slides, how many."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.branches import Branch, Sizing
from analysis.build.workshop.sliding_cap import sliding_cap, tube_end_m
from analysis.words.lengths import diameter, length, millimetres
from analysis.words.places import measured_from, one_on_each
from analysis.words.sentences import listed


def how_many(sizing: Sizing) -> str:
    """Say how many to make in all."""
    count, total = len(sizing.branches), sum(branch.welds for branch in sizing.branches)
    what = "Build one branch" if total == 1 else f"Build {total} branches"
    legs = [branch.legs for branch in sizing.branches]
    if not any(legs):
        return what
    if len(set(legs)) == 1 and len(legs[0]) > 1:
        return f"{what}: {count} on each pipe ({listed(list(legs[0]))})"
    return f"{what}: {listed([one_on_each(each) for each in legs])}"


def card_rows(sizing: Sizing) -> Iterator[tuple[str, ...]]:
    """Give each measure by its name, and what it is for each branch."""
    branches = sizing.branches
    is_placed = all(branch.position_m is not None for branch in branches)
    where = "Weld it at" if is_placed else "Where"
    yield (where, *(_place(branch) for branch in branches))
    canned = any(branch.can for branch in branches)
    yield ("Tube of the neck" if canned else "Tube", *(branch.tube.name for branch in branches))
    if canned:
        yield ("Neck, pipe to can", *(_neck(branch) for branch in branches))
        yield ("Tube of the can", *(b.can.tube.name if b.can else "none" for b in branches))
    yield ("Cut the tube to", *(_cut(branch) for branch in branches))
    yield ("Cap", *(_cap(branch) for branch in branches))
    yield ("Hole in the pipe", *(diameter(branch.tube.inner_diameter_m) for branch in branches))


def _place(branch: Branch) -> str:
    if branch.position_m is None:
        return "not worked out: describe the exhaust in the car file"
    return f"{length(branch.position_m)} {measured_from(branch.legs)}"


def _cut(branch: Branch) -> str:
    what = "" if branch.can is None else ", neck and can together"
    return f"{length(tube_end_m(branch))} from the pipe's inner wall{what}"


def _neck(branch: Branch) -> str:
    return "none" if branch.can is None else length(branch.can.neck_m)


def _cap(branch: Branch) -> str:
    cap = sliding_cap(branch)
    if cap is None:
        return "fixed: a disc welded on the end"
    return (
        f"slides: start with the sleeve {length(cap.start_m)} out; it goes from 0 to "
        f"{millimetres(cap.furthest_m, 0)} out"
    )
