"""The sections of the page, in the order of the page. Add a report section here."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.report.answer import answer_section
from analysis.report.blocks import Section
from analysis.report.cause import cause_section
from analysis.report.cautions import cautions_section
from analysis.report.contents import ReportContents
from analysis.report.levels import levels_section, map_section
from analysis.report.proof import proof_section
from analysis.report.quality import quality_section
from analysis.report.recommendation import recommendation_section


def make_sections(contents: ReportContents) -> tuple[Section, ...]:
    """Every section that has something to say."""
    sections = (
        answer_section(contents),
        cause_section(contents.findings),
        map_section(contents.findings),
        levels_section(contents.findings),
        recommendation_section(contents),
        proof_section(contents),
        quality_section(contents),
        cautions_section(),
    )
    return tuple(section for section in sections if section is not None)
