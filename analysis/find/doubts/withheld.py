"""When any number read from a drive would be wrong, none is given.

Measured on generated drives: with more than 2 % of the samples at full scale, rises are up to
15 dB and widths a third off. A codec made for speech rebuilds sound out of what voices are made of:
it drops drones and makes others, at 97 Hz in one drive that had none. Where music or voices
sounded, or the recorder held the level, and no band is sure, there may well be one.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from analysis.drive import Trouble
from analysis.find.doubts.engine_speed import telemetry_unaligned
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.recording import where_cut_off
from analysis.find.sound.automatic_gain import AutomaticGain

_MOST_CLIPPED = 0.02  # judgement: too many crests are gone to say a level, so none is given


def withheld_because(evidence: Evidence, trouble: Sequence[Trouble]) -> str | None:
    """Say why the bands of this drive must not be reported; None when they may be."""
    if any(each.code == "voice_codec" for each in trouble):
        return "a codec made for speech kept the sound, which drops drones and makes others"
    clipped_fraction = evidence.heard.facts.clipped_fraction
    if clipped_fraction > _MOST_CLIPPED:
        where = where_cut_off(evidence.heard.facts.peak)
        return f"{100.0 * clipped_fraction:.0f} % of the samples are cut off {where}"
    if evidence.tones.are_many and not evidence.bands:
        return "music or voices sounded, and nothing of the engine stands clear of them"
    if telemetry_unaligned(evidence) is not None:
        return "sound and engine speed could not be lined up"
    if evidence.log_ratio is not None:
        return "the logged engine speed is not the one that the engine sounds like"
    if evidence.gain is not AutomaticGain.NO and not evidence.bands:
        return "the recorder held the level, so whether there is a drone cannot be told"
    return None
