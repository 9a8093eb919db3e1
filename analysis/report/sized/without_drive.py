"""The page of a sizing without a drive: by ear, or for a frequency that somebody knows."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

from analysis.branches import Sizing
from analysis.build.workshop.plan import AS_USUAL, BuildWishes
from analysis.report.answer import build_sentence, sized_blocks
from analysis.report.blocks import Bullets, Note, Section, Text, Tone
from analysis.report.contents import Provenance
from analysis.report.page import provenance_rows, render_sections
from analysis.report.sections import cautions_section
from analysis.report.sized.recommendation import build_blocks
from analysis.size.advice import BY_EAR
from analysis.words import quantities as words
from analysis.words.sentences import sentence

_RECORD = (
    "No drive was recorded. Before you cut, record one: the sound at head height and the engine "
    "speed, as the README says. pipenote then measures the drone within a hertz or so, and "
    "tells whether it follows the engine or the road; no branch helps against the road."
)


def render_without_drive(
    sizing: Sizing, provenance: Provenance, wishes: BuildWishes = AS_USUAL
) -> str:
    """Make the whole page; every text is escaped."""
    told = _told(sizing)
    return render_sections(
        what="Exhaust drone, without a drive",
        title=told[0].upper() + told[1:],
        sections=sections_without_drive(sizing, wishes),
        sheet=provenance_rows(provenance),
    )


def sections_without_drive(sizing: Sizing, wishes: BuildWishes = AS_USUAL) -> tuple[Section, ...]:
    """Give the answer, what to build, how far to trust it, and the cautions."""
    first = f"Taken as told: {_told(sizing)}. {build_sentence(sizing)}"
    by_ear = [doubt for doubt in sizing.warnings if doubt.code == BY_EAR]
    notes = [Note(label="In short", text=first, tone=Tone.CARE)]
    notes += [
        Note(label=label, text=sentence(said), tone=Tone.CARE)
        for label, _, said in (doubt.message.partition(": ") for doubt in by_ear)
    ]
    rest = tuple(doubt for doubt in sizing.warnings if doubt not in by_ear)
    build = build_blocks(replace(sizing, warnings=rest), None, wishes)
    assumed = tuple(sentence(said) for said in sizing.assumptions)
    return (
        Section(name="answer", title="The answer", blocks=(*notes, *sized_blocks(sizing, wishes))),
        Section(name="build", title="What to build", blocks=tuple(build)),
        Section(
            name="quality",
            title="How far to trust this",
            blocks=(Text(text=_RECORD), *([Bullets(items=assumed)] if assumed else [])),
        ),
        cautions_section(),
    )


def _told(sizing: Sizing) -> str:
    """E.g. 'a drone at 2,000 rpm by ear, order 4, 133 Hz'."""
    target = sizing.target
    rpm = target.rpm(target.peak_hz)
    if rpm is None:
        return f"a drone at {words.hertz(target.peak_hz)}"
    by_ear = " by ear" if any(doubt.code == BY_EAR for doubt in sizing.warnings) else ""
    order = f"order {target.engine_order:g}"
    return f"a drone at {words.rpm(rpm)}{by_ear}, {order}, {words.hertz(target.peak_hz)}"
