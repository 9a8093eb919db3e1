"""The sections of the page, in the order of the page. Add a report section here."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.report.answer import answer_section, bands_section, first_drive_section
from analysis.report.blocks import Note, Section, Text, Tone
from analysis.report.compared.outcome import cured_bands
from analysis.report.compared.proof import proof_section
from analysis.report.contents import ReportContents
from analysis.report.found.cause import cause_section
from analysis.report.found.levels import levels_section, map_section
from analysis.report.found.trust import trust_section
from analysis.report.hear import hear_section
from analysis.report.sized.plans import plans_section
from analysis.report.sized.recommendation import advice_section, recommendation_section
from analysis.words.cautions import CAUTIONS, DEFER
from analysis.words.sentences import lowered


def make_sections(contents: ReportContents) -> tuple[Section, ...]:
    """Every section that has something to say."""
    sections = _of_one_drive(contents) if contents.comparison is None else _of_two_drives(contents)
    return tuple(section for section in sections if section is not None)


def _of_one_drive(contents: ReportContents) -> tuple[Section | None, ...]:
    return (
        answer_section(contents),
        hear_section(contents.heard),
        bands_section(contents.findings),
        cause_section(contents.findings),
        map_section(contents.findings),
        levels_section(contents.findings),
        recommendation_section(contents),
        plans_section(contents.sizing),
        trust_section(contents),
        cautions_section(),
    )


def _of_two_drives(contents: ReportContents) -> tuple[Section | None, ...]:
    """Proof first; what the baseline found, and what was built on it, is there to look up."""
    first = (
        first_drive_section(contents.findings),
        cause_section(contents.findings, cured_bands(contents)),
        map_section(contents.findings),
        levels_section(contents.findings),
    )
    return (
        answer_section(contents),
        hear_section(contents.heard),
        proof_section(contents),
        trust_section(contents),
        *(
            replace(section, title=f"Baseline: {lowered(section.title)}")
            for section in first
            if section is not None
        ),
        advice_section(contents),
        cautions_section(),
    )


def cautions_section() -> Section:
    """Every caution, short."""
    notes = (Note(label=a, text=b, source=c, tone=Tone.CARE) for a, b, c in CAUTIONS)
    title = "Before you start: cautions"
    return Section(name="cautions", title=title, blocks=(Text(text=DEFER), *notes))
