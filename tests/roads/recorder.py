"""What a recorder makes of the sound: levelled, limited, clipped, coded, on a clock of its own."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy import signal
from scipy.interpolate import CubicSpline
from scipy.ndimage import maximum_filter1d

from tests.roads.codecs import coded
from tests.roads.noise import decibels
from tests.roads.spec import FloatArray, Leveller, Recorder

_GAIN_STEP_S = 0.001  # judgement: the gain of a leveller is set a thousand times a second
_LEVEL_S = 0.01  # judgement: over how long a leveller takes the level before attack and release
_LIMITER_RELEASE_S = 0.05  # judgement: how fast a limiter lets go


def recorded(spec: Recorder, sound: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Full scale is -1..1 [shape=(n,) or (n, 2)]."""
    out = sound * decibels(spec.peak_dbfs) / max(float(np.abs(sound).max()), 1e-12)
    if spec.high_pass_hz > 0.0:
        sos = signal.butter(2, spec.high_pass_hz, "highpass", fs=sample_rate_hz, output="sos")
        out = np.asarray(signal.sosfilt(sos, out))
    if spec.leveller is not None:
        out = out * gain_of(spec.leveller, out, sample_rate_hz)
    if spec.limit_dbfs is not None:
        out = limited(out, decibels(spec.limit_dbfs), sample_rate_hz)
    if spec.clip_db > 0.0:
        out = out * decibels(spec.clip_db) / float(np.abs(out).max())
    out = np.clip(out, -1.0, 1.0) * decibels(-spec.turned_down_db)
    if spec.drift_ppm:
        out = _on_own_clock(out, spec.drift_ppm)
    if spec.codec is not None:
        out = coded(spec.codec, out, sample_rate_hz)
    if spec.dead_left:
        return np.stack([np.zeros(out.size), out], axis=1)
    return out


def gain_of(spec: Leveller, sound: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Gain as a factor at each sample [shape=(n,)]."""
    step = max(round(_GAIN_STEP_S * sample_rate_hz), 1)
    power = np.add.reduceat(sound**2, np.arange(0, sound.size, step)) / step
    keep = np.exp(-_GAIN_STEP_S / _LEVEL_S)
    power = signal.lfilter([1.0 - keep], [1.0, -keep], power, zi=[keep * power[:50].mean()])[0]
    level_dbfs = 10.0 * np.log10(np.maximum(power, 1e-12)) + 3.01  # a full sine is 0 dBFS
    wanted = np.minimum(spec.strength * (spec.target_dbfs - level_dbfs), spec.most_gain_db)
    gain_db = _followed(spec, wanted, level_dbfs)
    at = (np.arange(sound.size) + 0.5) / step - 0.5
    return np.asarray(10.0 ** (np.interp(at, np.arange(gain_db.size), gain_db) / 20.0))


def _followed(spec: Leveller, wanted_db: FloatArray, level_dbfs: FloatArray) -> FloatArray:
    attack = 1.0 - float(np.exp(-_GAIN_STEP_S / spec.attack_s))
    release = 1.0 - float(np.exp(-_GAIN_STEP_S / spec.release_s))
    gate = -np.inf if spec.gate_dbfs is None else spec.gate_dbfs
    now = float(wanted_db[: round(0.2 / _GAIN_STEP_S)].mean())
    gain = []
    for want, level in zip(wanted_db.tolist(), level_dbfs.tolist(), strict=True):
        if level >= gate:
            now += (attack if want < now else release) * (want - now)
        gain.append(now)
    return np.array(gain)


def limited(sound: FloatArray, ceiling: float, sample_rate_hz: float) -> FloatArray:
    """No sample goes beyond the ceiling; the gain falls at once and recovers slowly."""
    ahead = 2 * max(round(0.002 * sample_rate_hz), 1) + 1
    peak = maximum_filter1d(np.abs(sound), ahead)
    keep = float(np.exp(-1.0 / (_LIMITER_RELEASE_S * sample_rate_hz)))
    held, now = np.empty_like(peak), 0.0
    for index, value in enumerate(peak.tolist()):
        now = max(value, keep * now)
        held[index] = now
    return np.asarray(sound * np.minimum(ceiling / np.maximum(held, 1e-12), 1.0))


def _on_own_clock(sound: FloatArray, drift_ppm: float) -> FloatArray:
    """A clock that runs fast takes more samples of the same sound."""
    count = round(sound.size * (1.0 + 1e-6 * drift_ppm))
    at = np.arange(count) / (1.0 + 1e-6 * drift_ppm)
    return np.asarray(CubicSpline(np.arange(sound.size), sound)(np.minimum(at, sound.size - 1.0)))
