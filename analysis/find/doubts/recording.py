"""Doubts about the recording: its level, and a recorder that changed it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.doubts.evidence import Evidence
from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.find.sound.flat_tops import FULL_SCALE
from analysis.find.sound.tail_sound import TailFault
from analysis.findings import Doubt

# judgement: a single flat crest in two seconds is told; 40 dB under full scale, 16 bits are still
# 50 dB above their own noise. Only told, no number moves.
_CLIPPED_FRACTION = 1e-5
_LOW_PEAK = 0.01  # -40 dB re full scale
_CLEAR_RATIO = 2.0  # mean square of an order over that of the noise under it
_LEAST_CLEAR_SHARE = 0.1

_AT_TAIL = {
    TailFault.CLIPPED: "was cut off at its loudest. Lower its level",
    TailFault.HELD: (
        "was turned down by its recorder where it got loud. Switch off automatic gain, noise "
        "suppression and voice enhancement there"
    ),
    TailFault.NOT_HEARD: (
        "holds no engine over the drone's engine speeds. Put a wind shield on it, see that its "
        "channel is the one told as --tail-channel"
    ),
}


def clipped_audio(evidence: Evidence) -> Doubt | None:
    """Notice samples cut off at full scale."""
    share = evidence.heard.facts.clipped_fraction
    if share < _CLIPPED_FRACTION:
        return None
    return Doubt(
        code="clipped_audio",
        may_hide=True,
        message=(
            f"{100 * share:.3g} % of the samples are {where_cut_off(evidence.heard.facts.peak)}: "
            "the loudest moments are cut off, so the drone is louder and narrower than shown. "
            "Lower the recording level and drive again."
        ),
    )


def where_cut_off(peak: float) -> str:
    """Say at which level the crests end."""
    if peak >= FULL_SCALE:
        return "at full scale"
    return (
        f"at one level, {-20.0 * np.log10(peak):.1f} dB below full scale (recorded too loud, and "
        "turned down afterwards)"
    )


def automatic_gain(evidence: Evidence) -> Doubt | None:
    """Notice a recorder that turns itself down when it gets loud."""
    if evidence.gain is AutomaticGain.NO:
        return None
    held = "held" if evidence.gain is AutomaticGain.CERTAIN else "seems to have held"
    effect = (
        "What it did was worked out from the noise between the orders and taken off, so the engine "
        "speed of a drone is right within its interval, but levels are rough, weaker drones can be "
        "missed, and no level can be compared with another drive's."
        if evidence.bands
        else "That makes a drone as loud as all that is beside it."
    )
    return Doubt(
        code="automatic_gain",
        may_hide=True,
        message=(
            f"The recorder {held} the level: it turned itself down where it got loud. {effect} "
            "Switch off automatic gain, noise suppression and voice enhancement, and drive again."
        ),
    )


def low_signal(evidence: Evidence) -> Doubt | None:
    """Notice a recording too faint, or an engine that hardly stands out of the noise."""
    frames = evidence.heard.frames
    row, loudest = np.arange(frames.rpm.size), frames.total_ms.argmax(axis=1)
    is_clear = frames.total_ms[row, loudest] > _CLEAR_RATIO * frames.background_ms[row, loudest]
    share = float(is_clear.mean())
    is_faint = evidence.heard.facts.peak < _LOW_PEAK
    if share >= _LEAST_CLEAR_SHARE and not is_faint:
        return None
    what = (
        "The sound never comes within 40 dB of full scale"
        if is_faint
        else f"The engine stands clear of the noise in only {100 * share:.0f} % of the drive"
    )
    return Doubt(
        code="low_signal",
        may_hide=True,
        message=(
            f"{what}: weak drones can be missed, and where a drone begins and ends is uncertain. "
            "Raise the recording level, keep the microphone out of the wind, and drive again."
        ),
    )


def tail_left_out(evidence: Evidence) -> Doubt | None:
    """Notice a microphone at the tail whose level says nothing."""
    fault = evidence.at_tail.fault
    if fault is None:
        return None
    return Doubt(
        code="tail_left_out",
        message=(
            f"The sound at the tail {_AT_TAIL[fault]}, and drive again. Until then it is left out: "
            "what does not come out of the pipe is not measured."
        ),
    )
