"""Tyres, wind in gusts, clicks and the recorder's own hiss."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np
from scipy import signal
from scipy.ndimage import gaussian_filter1d

from tests.roads.driver import GRID_HZ, Motion
from tests.roads.spec import Cause, FloatArray, Resonance, RoadNoise
from tests.roads.ways import apply_resonances

REFERENCE_SPEED_M_S = 25.0
_TYRE_EXPONENT = 1.75  # pressure over speed: 35 dB per decade, from memory
_WIND_EXPONENT = 2.5  # 50 dB per decade, from memory
_CAVITY_Q = 18.0  # judgement: the ring of air in a tyre sounds a few hertz wide
_GUST_S = 0.8  # judgement: how long a gust takes to rise


def decibels(level_db: float) -> float:
    """Factor in pressure."""
    return float(10.0 ** (level_db / 20.0))


def unit(sound: FloatArray) -> FloatArray:
    """The sound with a root mean square of 1; silence stays silence."""
    size = float(np.sqrt(np.mean(sound**2)))
    return sound / size if size > 0.0 else sound


def road_noise(
    spec: RoadNoise,
    cabin: Sequence[Resonance],
    motion: Motion,
    time_s: FloatArray,
    sample_rate_hz: float,
    rng: np.random.Generator,
) -> FloatArray:
    """All of it, in units of the engine's level."""
    speed = np.maximum(motion.at(motion.speed_m_s, time_s), 0.0) / REFERENCE_SPEED_M_S
    tyres = _tyres(spec, time_s.size, sample_rate_hz, rng) * speed**_TYRE_EXPONENT
    tyres = apply_resonances(cabin, tyres, sample_rate_hz)
    sos = signal.butter(1, [4.0, 45.0], "bandpass", fs=sample_rate_hz, output="sos")
    wind = unit(np.asarray(signal.sosfilt(sos, rng.normal(size=time_s.size))))
    wind = wind * decibels(spec.wind_db) * speed**_WIND_EXPONENT
    wind = wind * 10.0 ** (_gusts_db(spec.gust_db, motion, time_s, rng) / 20.0)
    floor = decibels(spec.floor_db) * rng.normal(size=time_s.size)
    return np.asarray(tyres + wind + floor + clicks(spec, time_s.size, sample_rate_hz, rng))


def _tyres(
    spec: RoadNoise, count: int, sample_rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    """Broad noise falling 6 dB per octave above 120 Hz, with the cavity of the tyre in it."""
    sos = signal.butter(1, [15.0, 120.0], "bandpass", fs=sample_rate_hz, output="sos")
    broad = unit(np.asarray(signal.sosfilt(sos, rng.normal(size=count))))
    cavity = Resonance(
        cause=Cause.STRUCTURE,
        frequency_hz=spec.cavity_hz,
        gain=decibels(spec.cavity_db) - 1.0,
        q=_CAVITY_Q,
    )
    return decibels(spec.tyres_db) * apply_resonances([cavity], broad, sample_rate_hz)


def _gusts_db(
    gust_db: float, motion: Motion, time_s: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """0 to ``gust_db``: calm most of the time, with gusts of a second or two."""
    slow = gaussian_filter1d(rng.normal(size=motion.grid_s.size), _GUST_S * GRID_HZ)
    slow = slow / max(float(slow.std()), 1e-12)
    return motion.at(gust_db * np.clip(0.6 * slow, 0.0, 1.0), time_s)


def clicks(
    spec: RoadNoise, count: int, sample_rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    """Knocks that ring for some milliseconds, at any time."""
    out = np.zeros(count)
    for _ in range(rng.poisson(spec.clicks_per_s * count / sample_rate_hz)):
        ring_s = float(rng.uniform(0.002, 0.02))
        age_s = np.arange(int(6.0 * ring_s * sample_rate_hz)) / sample_rate_hz
        knock = np.exp(-age_s / ring_s) * np.cos(2.0 * np.pi * rng.uniform(80.0, 2000.0) * age_s)
        at = int(rng.integers(0, count))
        size = decibels(spec.click_db) * float(rng.uniform(0.3, 1.0))
        out[at : at + knock.size] += size * knock[: count - at]
    return out
