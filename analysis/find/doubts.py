"""Doubts about a drive with sound: what each does to the numbers, and what to do about it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import bin_of
from analysis.find.gap_doubts import sound_gap, telemetry_gap
from analysis.find.noise_doubts import microphone_roll_off, speech, wind_rumble
from analysis.find.sound.automatic_gain import AutomaticGain
from analysis.find.sound.gaps import SoundGaps
from analysis.find.sound.order_tracking import HOP_S, OrderFrames
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.wide_bands import BandLevels
from analysis.find.sound.working_copy import SampleFacts
from analysis.findings import Doubt, DroneBand, LockedTo, TelemetryDelay

_CLIPPED_FRACTION = 1e-5
_LOW_PEAK = 0.01  # -40 dB re full scale
_CLEAR_RATIO = 2.0  # mean square of an order over that of the noise under it
_LEAST_CLEAR_SHARE = 0.1
_SWEEP_LIMIT = 0.3  # of (f / Q)**2 per second: beyond it a peak moves by 0.2 of its width
_LEAST_PASSES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All that the doubts are drawn from."""

    facts: SampleFacts
    levels: BandLevels
    gain: AutomaticGain
    is_flattened: bool  # the microphone's response was known and taken out
    is_speed_heard: bool  # worked out from the sound, as there is no telemetry
    delay: TelemetryDelay | None
    telemetry: pd.DataFrame
    speed: SpeedTrack
    gaps: SoundGaps
    duration_s: float
    frames: OrderFrames
    pass_index: IntArray
    gear: FloatArray
    bands: tuple[DroneBand, ...]


def doubts(evidence: Evidence) -> tuple[Doubt, ...]:
    """Every doubt that the evidence raises, in a fixed order."""
    raised = (
        _clipped(evidence),
        _automatic_gain(evidence),
        _low_signal(evidence),
        wind_rumble(evidence.levels),
        speech(evidence.levels),
        microphone_roll_off(evidence.frames, is_flattened=evidence.is_flattened),
        sound_gap(evidence.gaps, evidence.speed, evidence.frames.rpm),
        *_speed_doubts(evidence),
        _too_fast(evidence),
        _few_passes(evidence),
        _gears(evidence),
    )
    return tuple(doubt for doubt in raised if doubt is not None)


def _clipped(evidence: Evidence) -> Doubt | None:
    share = evidence.facts.clipped_fraction
    if share < _CLIPPED_FRACTION:
        return None
    return Doubt(
        code="clipped_audio",
        message=(
            f"{100 * share:.3g} % of the samples are at full scale: the loudest moments are cut "
            "off, so the drone is louder and narrower than shown. Lower the recording level and "
            "drive again."
        ),
    )


def _automatic_gain(evidence: Evidence) -> Doubt | None:
    if evidence.gain is AutomaticGain.NO:
        return None
    return Doubt(
        code="automatic_gain",
        message=(
            "The recorder seems to turn its gain down when the engine gets loud: the drone is "
            "louder and narrower than shown. Switch off automatic gain, noise suppression and "
            "voice enhancement, and drive again."
        ),
    )


def _low_signal(evidence: Evidence) -> Doubt | None:
    total, noise = evidence.frames.total_ms, evidence.frames.background_ms
    share = float(
        (total.max(axis=1) > _CLEAR_RATIO * noise[_rows(total), total.argmax(axis=1)]).mean()
    )
    quiet = evidence.facts.peak < _LOW_PEAK
    if share >= _LEAST_CLEAR_SHARE and not quiet:
        return None
    what = (
        "The recording never comes within 40 dB of full scale"
        if quiet
        else f"The engine stands clear of the noise in only {100 * share:.0f} % of the drive"
    )
    return Doubt(
        code="low_signal",
        message=(
            f"{what}: weak bands can be missed and edges are uncertain. Raise the recording "
            "level, keep the microphone out of the wind, and drive again."
        ),
    )


def _rows(values: np.ndarray) -> IntArray:
    return np.arange(values.shape[0])


def _speed_doubts(evidence: Evidence) -> tuple[Doubt | None, ...]:
    if not evidence.is_speed_heard:
        return (
            telemetry_gap(evidence.telemetry, evidence.speed, evidence.duration_s),
            _unaligned(evidence),
        )
    known_s = evidence.speed.step_s * np.count_nonzero(np.isfinite(evidence.speed.rpm))
    return (
        Doubt(
            code="rpm_from_sound",
            message=(
                "There is no log of engine speed, so it was worked out from the sound: it is known "
                f"for {100.0 * known_s / evidence.duration_s:.0f} % of the drive, the rest is left "
                "out. A number of cylinders that is not right makes every engine speed wrong; "
                "check one that you remember."
            ),
        ),
    )


def _unaligned(evidence: Evidence) -> Doubt | None:
    if evidence.delay is not None:
        return None
    return Doubt(
        code="telemetry_unaligned",
        message=(
            "The sound does not show how late the engine speed was logged, so it was taken as on "
            "time: frequencies can be off by several percent and bands too wide. Drive slow "
            "sweeps through the drone, up and down, and log again."
        ),
    )


def _too_fast(evidence: Evidence) -> Doubt | None:
    """ISO 7626-2 gives 0.9 (f/Q)**2 per second for the level; a peak's place needs 0.3 or less.

    The limit is quoted from memory; the factor comes from a simulation of a swept resonance.
    """
    log_rate = _log_rate_per_s(evidence.frames)
    fast = [band for band in evidence.bands if _share_too_fast(band, evidence, log_rate) > 0.5]
    if not fast:
        return None
    band = fast[0]
    width_hz = band.high_hz - band.low_hz
    limit = _SWEEP_LIMIT * width_hz**2 * 60.0 / band.engine_order
    return Doubt(
        code="sweep_too_fast",
        message=(
            f"The drone at {band.peak_rpm:,.0f} rpm was driven through too quickly for its width; "
            f"its peak can be off and its width too large. Take it slower than {limit:,.0f} rpm "
            "per second, up and down."
        ),
    )


def _log_rate_per_s(frames: OrderFrames) -> FloatArray:
    steps = np.maximum(np.diff(frames.time_s), HOP_S / 2)
    rate = np.abs(np.diff(np.log(frames.rpm))) / steps
    return np.append(rate, rate[-1:])


def _share_too_fast(band: DroneBand, evidence: Evidence, log_rate_per_s: FloatArray) -> float:
    inside = (evidence.frames.rpm > band.low_rpm) & (evidence.frames.rpm < band.high_rpm)
    if not inside.any():
        return 0.0
    width_hz = band.high_hz - band.low_hz
    sweep_hz_s = log_rate_per_s[inside] * band.peak_hz
    return float((sweep_hz_s > _SWEEP_LIMIT * width_hz**2).mean())


def _few_passes(evidence: Evidence) -> Doubt | None:
    for band in evidence.bands:
        if _times_through(band, evidence) < _LEAST_PASSES:
            return Doubt(
                code="few_passes",
                message=(
                    f"The drone at {band.peak_rpm:,.0f} rpm was driven through once only, so what "
                    "one pass has by chance cannot be told from the drone. Drive it at least "
                    "twice up and twice down."
                ),
            )
    return None


def _times_through(band: DroneBand, evidence: Evidence) -> float:
    """In how many passes a bin of the band was heard, as a median over its bins.

    A rest in the band, or a pass that a gap cuts in two, is no second time through.
    """
    rpm = evidence.frames.rpm
    inside = (rpm > band.low_rpm) & (rpm < band.high_rpm)
    seen = np.unique(np.stack([bin_of(rpm[inside]), evidence.pass_index[inside]]), axis=1)
    _, passes = np.unique(seen[0], return_counts=True)
    return float(np.median(passes)) if passes.size else 0.0


def _gears(evidence: Evidence) -> Doubt | None:
    if all(band.locked_to is not LockedTo.UNKNOWN for band in evidence.bands):
        return None
    known = evidence.gear[evidence.gear >= 0.0]
    if np.unique(known).size >= 2:
        return None
    message = (
        "Only one gear was driven, so a drone of the engine cannot be told from one of tyres or "
        "driveline. Drive through the same engine speeds in a second gear."
        if known.size
        else "Without road speed the gears cannot be told apart, so neither can a drone of the "
        "engine and one of tyres or driveline. Log road speed too, and drive two gears."
    )
    return Doubt(code="one_gear_only", message=message)
