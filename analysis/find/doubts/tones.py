"""Doubts about tones that are not the engine's."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.find.doubts.evidence import Evidence
from analysis.findings import Doubt
from analysis.words.sentences import listed


def steady_tone(evidence: Evidence) -> Doubt | None:
    """Say which tones were taken out of the sound, and how to be rid of them."""
    tones = sorted(evidence.heard.tones, key=lambda tone: tone.frequency_hz)
    if not tones:
        return None
    one = len(tones) == 1
    at = listed([f"{tone.frequency_hz:.0f} Hz" for tone in tones])
    return Doubt(
        code="steady_tone",
        message=(
            f"{'A steady tone sounds' if one else 'Steady tones sound'} at {at} whatever the "
            f"engine does, from a fan, a pump or a charger. {'It was' if one else 'They were'} "
            "taken out before the drone was looked for, so engine orders can be a decibel or two "
            "off there. Switch off fan and chargers, and drive again."
        ),
    )
