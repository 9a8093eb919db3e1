"""The section of cautions."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.report.blocks import Block, Note, Section, Text, Tone
from analysis.words.cautions import CAUTIONS, DEFER


def cautions_section() -> Section:
    """Every caution, short."""
    blocks: tuple[Block, ...] = (
        Text(text=DEFER),
        *(Note(label=a, text=b, source=c, tone=Tone.CARE) for a, b, c in CAUTIONS),
    )
    return Section(name="cautions", title="Before you start: cautions", blocks=blocks)
