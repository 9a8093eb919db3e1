"""What to build, on a card, and the exhaust with the branches on it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.branches import Sizing
from analysis.build.drawing.sketch import sketches
from analysis.build.workshop.card import card_rows, how_many
from analysis.build.workshop.plan import AS_USUAL, BuildWishes
from analysis.report.blocks import Block, Drawing, Table, Text
from analysis.words.plans import kept_words
from analysis.words.sentences import sentence


def card_blocks(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> list[Block]:
    """Give the card, and the exhaust with the branches on it where its sections are known."""
    count = len(sizing.branches)
    card = Table(
        caption=how_many(sizing),
        head=("", *([f"Branch {n}" for n in range(1, count + 1)] if count > 1 else ["Branch"])),
        rows=tuple(card_rows(sizing, wishes)),
    )
    kept = kept_words(sizing)
    blocks: list[Block] = [card, *([] if kept is None else [Text(text=sentence(kept))])]
    svgs = sketches(sizing)
    if not svgs:
        return blocks
    return [
        *blocks,
        Drawing(
            name="sketch",
            title="Where it goes",
            summary="To scale, along the pipe and up the branch; a branch may be bent to fit.",
            svgs=svgs,
        ),
    ]
