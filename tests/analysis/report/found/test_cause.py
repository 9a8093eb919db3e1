"""The section on what makes the drone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.findings import GearView, LockedTo
from analysis.report.blocks import Bullets, Chart, Heading, Table, Text
from analysis.report.found.cause import cause_section
from analysis.report.found.levels import levels_section
from tests.analysis.report.found_examples import band, findings, levels_only

SEEN = (
    GearView(gear=-1, share_of_rise=0.1, road_speed_m_s=0.0),
    GearView(gear=0, share_of_rise=1.02, road_speed_m_s=15.0),
    GearView(gear=1, share_of_rise=0.93, road_speed_m_s=20.0),
)


def test_a_quiet_drive_has_nothing_to_explain() -> None:
    assert cause_section(findings()) is None


def test_evidence_what_next_gears_and_the_map() -> None:
    one = replace(band(), by_gear=SEEN)
    section = cause_section(findings(one))
    assert section is not None
    heading = next(block for block in section.blocks if isinstance(block, Heading))
    assert heading.text == "112 Hz, order 3 (firing): the engine"
    bullets = [block for block in section.blocks if isinstance(block, Bullets)]
    assert "follows the engine" in bullets[0].items[0]
    assert "tailpipe" in bullets[1].items[0]
    (table,) = (block for block in section.blocks if isinstance(block, Table))
    assert table.rows == (
        ("Order 3 (firing)", "The car standing", "", "10 %"),
        ("Order 3 (firing)", "Gear A", "54 km/h, 34 mph", "102 %"),
        ("Order 3 (firing)", "Gear B", "72 km/h, 45 mph", "93 %"),
    )
    (chart,) = (block for block in section.blocks if isinstance(block, Chart))
    heat = chart.figure.data[0]
    assert np.asarray(heat.z).shape == (np.asarray(heat.y).size, np.asarray(heat.x).size)
    at_peak = int(np.abs(np.asarray(heat.x) - 2240.0).argmin())
    loudest = np.asarray(heat.y)[int(np.nanargmax(np.asarray(heat.z)[:, at_peak]))]
    assert abs(loudest - 3.0) < 0.1


def test_what_was_not_decided_says_what_to_drive() -> None:
    section = cause_section(findings(band(locked_to=LockedTo.UNKNOWN)))
    assert section is not None
    texts = [block.text for block in section.blocks if isinstance(block, Text)]
    assert "To find out:" in texts


def test_levels_alone_have_no_map() -> None:
    section = cause_section(levels_only())
    assert section is not None
    assert not any(isinstance(block, Chart) for block in section.blocks)


def test_the_page_says_how_far_the_note_stands_out() -> None:
    def said(rise_db: float) -> str:
        blocks = levels_section(findings(band(rise_db=rise_db))).blocks
        return " ".join(block.text for block in blocks if isinstance(block, Text))

    assert "ISO/PAS 20065 the drone at 112 Hz stands" in said(25.0)
    assert "ISO/PAS 20065" not in " ".join(
        block.text for block in levels_section(levels_only()).blocks if isinstance(block, Text)
    )
