"""The section of plans side by side, and the kept place on the card."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.report.blocks import Table, Text
from analysis.report.sized.build_card import card_blocks
from analysis.report.sized.plans import plans_section
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.report.sized_examples import sizing, with_plans


def test_every_plan_is_a_row_and_one_is_recommended() -> None:
    section = plans_section(with_plans())
    assert section is not None
    table = section.blocks[0]
    assert isinstance(table, Table)
    assert len(table.rows) == 3
    assert [row[0].endswith("(recommended)") for row in table.rows] == [False, True, False]
    assert {len(row) for row in table.rows} == {len(table.head)}


def test_nothing_is_laid_side_by_side_without_the_exhaust() -> None:
    assert plans_section(sizing()) is None
    assert plans_section(None) is None


def test_the_card_says_which_place_to_keep() -> None:
    told = [block.text for block in card_blocks(with_plans(), STRAIGHT) if isinstance(block, Text)]
    assert len(told) == 1
    assert told[0].startswith("Keep the place at 360 mm")
    assert not any(isinstance(block, Text) for block in card_blocks(sizing(), STRAIGHT))
