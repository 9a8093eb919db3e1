"""The overall level of two drives in the report, and what old sessions of levels cannot say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

from analysis.findings import Weighting
from analysis.report.blocks import Chart, Table, Text
from analysis.report.compared.figure_compare import outcome_picture
from analysis.report.compared.outcome import outcome_sentence
from analysis.report.compared.proof import proof_section, whole_drive_blocks
from analysis.report.contents import ReportContents
from analysis.verdicts import Comparison
from tests.analysis.report import compared_examples, examples, found_examples


def contents_of(*, is_of_levels: bool) -> tuple[ReportContents, Comparison]:
    comparison = replace(compared_examples.comparison(), is_of_levels=is_of_levels)
    found = found_examples.findings(found_examples.band())
    return examples.contents(found, compared=comparison), comparison


def test_unweighted_and_a_weighted_levels_are_drawn_and_tabled() -> None:
    blocks = whole_drive_blocks(compared_examples.comparison())
    charts = [block for block in blocks if isinstance(block, Chart)]
    assert [chart.name for chart in charts] == ["compare-overall-z", "compare-overall-a"]
    assert [trace.name for trace in charts[0].figure.data] == ["before", "after"]
    (table,) = (block for block in blocks if isinstance(block, Table))
    assert [row[0] for row in table.rows] == [
        f"{part}, {weighting}"
        for weighting in ("unweighted", "A-weighted")
        for part in ("Idle", "Cruise", "Whole drive")
    ]
    assert table.rows[0][3] == "-3.0 dB"


def test_the_only_weighting_there_is_is_shown() -> None:
    both = compared_examples.comparison()
    only_c = replace(
        both,
        overall=tuple(each for each in both.overall if each.weighting is Weighting.C),
        parts=tuple(each for each in both.parts if each.weighting is Weighting.C),
    )
    charts = [block for block in whole_drive_blocks(only_c) if isinstance(block, Chart)]
    assert [chart.name for chart in charts] == ["compare-overall-c"]


def test_drives_that_share_nothing_show_nothing() -> None:
    assert whole_drive_blocks(replace(compared_examples.comparison(), overall=(), parts=())) == []


def test_levels_do_not_tell_of_new_drones() -> None:
    for is_of_levels in (False, True):
        contents, comparison = contents_of(is_of_levels=is_of_levels)
        section = proof_section(contents)
        assert section is not None
        told = " ".join(block.text for block in section.blocks if isinstance(block, Text))
        picture = outcome_picture(contents, comparison)
        assert isinstance(picture, Chart)
        assert ("Levels cannot tell" in told) is is_of_levels
        assert ("Levels cannot tell" in picture.summary) is is_of_levels
        assert picture.title.startswith("Overall level") is is_of_levels
        said = outcome_sentence(contents, comparison)
        assert ("the level with the drone in it" in said) is is_of_levels
