"""A band at its own road speed with the engine elsewhere: coasting, clutch down, or another gear.

What the road makes is still there then; what the engine makes is gone. This can decide a drive in
one gear (common practice, no source).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.drive import Drive, Engine
from analysis.find.sound.speed_track import told_at
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.known_speed import KnownSpeed
from analysis.findings import COASTING, DroneBand, GearView

# judgement: how a road speed is looked at with the engine at another speed. 20 % more of any moved
# nothing: it takes a coasting stretch to matter, and then decides only what the band follows.
_SAME_SPEED = 0.06
_ELSEWHERE = 0.25  # of engine speed
_STEP_S = 0.25
_WINDOW_S = 0.75
_LINE_HZ = 3.0
_NOISE_HZ = (6.0, 20.0)
_APART_HZ = 6.0  # from each order of the engine
# judgement: below, an engine idles, and only multiples of its firing order are as loud as a drone;
# above, unlike cylinders fill every half order. Only decides which moments are looked at.
_IDLING_RPM = 1200.0
_LEAST_WINDOWS, _MOST_WINDOWS = 8, 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Cruise:
    """The sound, and engine speed and road speed each quarter of a second [shape=(n_times,)]."""

    copy: WorkingCopy
    engine: Engine | None
    time_s: FloatArray
    rpm: FloatArray
    road_speed_m_s: FloatArray


def cruise_of(drive: Drive, copy: WorkingCopy, speed: KnownSpeed) -> Cruise:
    """Look up engine speed and road speed over the whole sound."""
    time_s = np.arange(_WINDOW_S, copy.duration_s - _WINDOW_S, _STEP_S)
    return Cruise(
        copy=copy,
        engine=drive.engine,
        time_s=time_s,
        rpm=speed.track.at(time_s),
        road_speed_m_s=told_at(drive.telemetry, "road_speed_m_s", speed.row_times(time_s)),
    )


def coasting_view(band: DroneBand, cruise: Cruise, level_offset_db: float) -> GearView | None:
    """How much of the band is left at its road speed; None when that was not driven.

    The share is 1 where the sound there keeps its level and 0 where it has fallen by the whole
    rise.
    """
    moving = [view.road_speed_m_s for view in band.by_gear if view.gear >= 0]
    if len(moving) != 1:
        return None
    ratio = cruise.road_speed_m_s / moving[0]
    tone_hz = band.peak_hz * ratio
    chosen = np.abs(ratio - 1.0) < _SAME_SPEED
    chosen &= np.abs(cruise.rpm / band.peak_rpm - 1.0) > _ELSEWHERE
    chosen &= _away_from_engine(tone_hz, cruise.rpm, cruise.engine)
    chosen &= ~cruise.copy.gaps.touch(cruise.time_s - _WINDOW_S, cruise.time_s + _WINDOW_S)
    at = np.flatnonzero(chosen)
    if at.size < _LEAST_WINDOWS:
        return None
    at = at[:: -(-at.size // _MOST_WINDOWS)]
    level_db = level_offset_db + _level_db(cruise.copy, cruise.time_s[at], tone_hz[at])
    share = 1.0 - (band.level_db - level_db) / band.rise_db
    return GearView(
        gear=COASTING, share_of_rise=float(np.clip(share, 0.0, 1.0)), road_speed_m_s=moving[0]
    )


def _away_from_engine(tone_hz: FloatArray, rpm: FloatArray, engine: Engine | None) -> BoolArray:
    """Whether no order of the engine lies where the band's tone is looked for."""
    firing_order = engine.firing_order if engine is not None else 0.5
    step_hz = np.where(rpm < _IDLING_RPM, firing_order, 0.5) * rpm / 60.0
    nearest = np.maximum(np.rint(tone_hz / step_hz), 1.0) * step_hz
    return np.asarray(np.abs(tone_hz - nearest) > _APART_HZ)


def _level_db(copy: WorkingCopy, time_s: FloatArray, tone_hz: FloatArray) -> float:
    """Mean level of the tone over the noise beside it, 10 lg of a mean square."""
    size = round(_WINDOW_S * copy.sample_rate_hz)
    window = np.hanning(size + 1)[:-1]
    scale = 2.0 / (size * float(np.dot(window, window)))
    hz = np.arange(size // 2 + 1) * copy.sample_rate_hz / size
    net = []
    for moment_s, at_hz in zip(time_s, tone_hz, strict=True):
        start = round((moment_s - 0.5 * _WINDOW_S) * copy.sample_rate_hz)
        power = scale * np.abs(np.fft.rfft(copy.read(start, size) * window)) ** 2
        away_hz = np.abs(hz - at_hz)
        line, beside = away_hz <= _LINE_HZ, (away_hz > _NOISE_HZ[0]) & (away_hz < _NOISE_HZ[1])
        net.append(power[line].sum() - np.median(power[beside]) / np.log(2.0) * line.sum())
    return float(10.0 * np.log10(max(float(np.mean(net)), 1e-20)))
