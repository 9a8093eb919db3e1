"""What to build, on a card: where, which tube, how long, how far the cap slides, on which pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.branches import Branch, Sizing
from analysis.build.drawing.sketch import sketch_svg
from analysis.build.workshop.sliding_cap import sliding_cap, tube_end_m
from analysis.report.blocks import Block, Drawing, Table
from analysis.words.lengths import diameter, length, millimetres
from analysis.words.sentences import listed


def card_blocks(sizing: Sizing) -> list[Block]:
    """Give the card, and the exhaust with the branches on it where its sections are known."""
    count = len(sizing.branches)
    card = Table(
        caption=_count(sizing),
        head=("", *([f"Branch {n}" for n in range(1, count + 1)] if count > 1 else ["Branch"])),
        rows=tuple(_rows(sizing)),
    )
    svg = sketch_svg(sizing)
    if svg is None:
        return [card]
    return [
        card,
        Drawing(
            name="sketch",
            title="Where it goes",
            summary="To scale, along the pipe and up the branch; a branch may be bent to fit.",
            svgs=(svg,),
        ),
    ]


def _count(sizing: Sizing) -> str:
    """How many to make in all."""
    each = len(sizing.branches)
    if not sizing.legs:
        return "Build one branch" if each == 1 else f"Build {each} branches"
    total = each * len(sizing.legs)
    return f"Build {total} branches: {each} on each pipe ({listed(sizing.legs)})"


def _rows(sizing: Sizing) -> Iterator[tuple[str, ...]]:
    branches = sizing.branches
    yield ("Weld it at", *(_place(branch, sizing) for branch in branches))
    canned = any(branch.can for branch in branches)
    yield ("Tube of the neck" if canned else "Tube", *(branch.tube.name for branch in branches))
    if canned:
        yield ("Neck, pipe to can", *(_neck(branch) for branch in branches))
        yield ("Tube of the can", *(b.can.tube.name if b.can else "none" for b in branches))
    yield ("Cut to, from the pipe's wall", *(length(tube_end_m(branch)) for branch in branches))
    yield ("Cap", *(_cap(branch) for branch in branches))
    yield ("Hole in the pipe", *(diameter(branch.tube.inner_diameter_m) for branch in branches))


def _place(branch: Branch, sizing: Sizing) -> str:
    if branch.position_m is None:
        return "place not worked out: describe the exhaust in the car file"
    start = "the start of the pipe" if sizing.legs else "the collector"
    return f"{length(branch.position_m)} from {start}"


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
