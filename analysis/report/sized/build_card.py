"""What to build, on a card, and the exhaust with the branches on it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Sizing
from analysis.build.drawing.sketch import sketches
from analysis.build.workshop.card import card_rows, how_many, plan_of
from analysis.build.workshop.fit_words import fit_words
from analysis.build.workshop.plan import AS_USUAL, BuildWishes
from analysis.report.blocks import Block, Drawing, Table, Text
from analysis.words.plans import kept_words
from analysis.words.sentences import sentence


def card_table(sizing: Sizing, wishes: BuildWishes) -> Table:
    """Give each measure that is needed at the car: a column for each branch."""
    count = len(sizing.branches)
    return Table(
        caption=how_many(sizing),
        head=("", *([f"Branch {n}" for n in range(1, count + 1)] if count > 1 else ["Branch"])),
        rows=tuple(card_rows(sizing, wishes)),
    )


def card_blocks(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> list[Block]:
    """Give the card, and the exhaust with the branches on it where its sections are known."""
    said = (kept_words(sizing), _fit(sizing, wishes))
    told = [Text(text=sentence(each)) for each in said if each is not None]
    blocks: list[Block] = [card_table(sizing, wishes), *told]
    svgs = sketches(sizing)
    if not svgs:
        return blocks
    return [
        *blocks,
        Drawing(
            name="sketch",
            title="Where it goes",
            summary=_how_it_lies(sizing),
            svgs=svgs,
        ),
    ]


def _fit(sizing: Sizing, wishes: BuildWishes) -> str | None:
    """Say what room was taken for granted; nothing of a branch that cannot be made as sized."""
    build = plan_of(sizing, wishes)
    return None if build is None else fit_words(build)


def _how_it_lies(sizing: Sizing) -> str:
    """Say how to read the picture, and what room was taken for granted."""
    said = ["Seen from above, to scale."]
    if any(branch.can is None for branch in sizing.branches):
        said.append("The branch is bent near the pipe, and lies along it.")
    if _may_meet(sizing):
        said.append("Turn the second to the other side, so that they do not meet.")
    return " ".join(said)


def _may_meet(sizing: Sizing) -> bool:
    """Whether two on one pipe are so near that tube along it could meet the other."""
    if sizing.spacing_m is None:
        return False
    return sizing.spacing_m < sum(branch.longest_m for branch in sizing.branches)
