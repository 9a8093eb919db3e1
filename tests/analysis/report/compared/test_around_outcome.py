"""What stands around the answer about two drives: what they could show, the picture, the proof."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

from analysis.report.answer import answer_section
from analysis.report.blocks import Table, Text
from analysis.report.compared.proof import proof_section
from analysis.verdicts import Verdict
from tests.analysis.report.compared.pages import (
    compared,
    page_words,
    two_drives,
)
from tests.analysis.report.found_examples import findings


def test_what_the_drives_could_show_stands_before_the_verdict() -> None:
    section = proof_section(two_drives(compared(Verdict.CURED)))
    assert section is not None
    shown = [getattr(block, "items", ()) for block in section.blocks]
    where = next(i for i, items in enumerate(shown) if "1.4 dB or more" in " ".join(items))
    verdicts = next(i for i, b in enumerate(section.blocks) if isinstance(b, Table))
    assert where < verdicts


def test_drives_that_can_show_nothing_say_so() -> None:
    section = proof_section(two_drives(compared(Verdict.CANNOT_TELL)))
    assert section is not None
    assert any("none; why is in the table" in str(block) for block in section.blocks)


def test_without_a_drive_to_show_there_is_no_picture() -> None:
    page = two_drives(compared(Verdict.CANNOT_TELL))
    lost = replace(page, postfix=replace(findings(), withheld="the sound is lost"))
    picture = answer_section(lost).blocks[1]
    assert isinstance(picture, Text)


def test_a_cure_proves_the_cause_and_leaves_nothing_to_find_out() -> None:
    text = page_words(two_drives(compared(Verdict.CURED)))
    assert "took it away, so it was the exhaust" in text
    assert "To be sure:" not in text
    assert "took it away" not in page_words(two_drives(compared(Verdict.UNCHANGED)))
