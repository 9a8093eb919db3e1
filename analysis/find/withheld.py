"""When the recording is such that any number read from it would be wrong, no number is given.

Measured on generated drives: with more than 2 % of the samples at full scale, rises are up to
15 dB and widths a third off; with a recorder that levels its own gain, widths are up to four
fifths off.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterable

from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.findings import Doubt

_MOST_CLIPPED = 0.02


def withheld_because(
    doubts: Iterable[Doubt], clipped_fraction: float, gain: AutomaticGain
) -> str | None:
    """Say why the bands of this drive must not be reported; None when they may be."""
    if clipped_fraction > _MOST_CLIPPED:
        return f"{100.0 * clipped_fraction:.0f} % of the samples are cut off at full scale"
    if gain is AutomaticGain.CERTAIN:
        return "the recorder changed its own level all along"
    if any(doubt.code == "telemetry_unaligned" for doubt in doubts):
        return "sound and engine speed could not be lined up"
    return None
