"""Every doubt about a drive with sound, in the order in which they are told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.find.doubts import driving, engine_speed, gaps, noise, recording, tones
from analysis.find.doubts.evidence import Evidence
from analysis.findings import Doubt

_ALL = (
    recording.clipped_audio,
    recording.automatic_gain,
    recording.low_signal,
    noise.wind_rumble,
    noise.speech,
    noise.microphone_roll_off,
    tones.steady_tone,
    gaps.sound_gap,
    gaps.telemetry_gap,
    engine_speed.rpm_from_sound,
    engine_speed.telemetry_unaligned,
    engine_speed.wrong_log,
    engine_speed.other_cylinders,
    driving.sweep_too_fast,
    driving.few_passes,
    driving.climbs_on,
    driving.one_gear_only,
    recording.tail_left_out,
)


def doubts(evidence: Evidence) -> tuple[Doubt, ...]:
    """Every doubt that the evidence raises."""
    raised = (doubt_of(evidence) for doubt_of in _ALL)
    return tuple(doubt for doubt in raised if doubt is not None)
