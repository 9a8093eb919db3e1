"""What a clip-on pickup sends into a line-in, made from the true crank angle of a drive.

A spark makes the pickup ring: a damped swing that begins at once. The line-in blocks direct
voltage and limits the band below half the sample rate, which is done at sixteen times the rate so
that each pulse begins at any fraction of a sample. Shares no code with the detection.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from logger.arrays import FloatArray
from tests.drives.motion import Motion

_FINE = 16  # steps within a sample
_LASTS_S = 4e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Ignition:
    """Sparks, pickup and line-in; shares are of all sparks, levels relative to full scale."""

    pulses_per_turn: float = 0.5
    sample_rate_hz: int = 48_000
    ring_hz: float = 9_000.0
    ring_decay_s: float = 0.15e-3
    height: float = 0.4  # at 2,000 rpm
    height_exponent: float = 0.0  # grows with rpm to this power
    height_variation: float = 0.1
    polarity: float = 1.0
    alternate: float = 1.0  # height of every second pulse, as of a wasted spark
    jitter_deg: float = 0.0  # standard deviation of the ignition, crank angle
    advance_deg: float = 0.0  # how much earlier the spark is at no load than at full load
    missed_share: float = 0.0
    double_share: float = 0.0
    hum_level: float = 0.0
    crosstalk_level: float = 0.0  # largest value of the engine sound
    noise_level: float = 1e-4
    stops_s: tuple[tuple[float, float], ...] = ()  # no sparks from, to


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseChannel:
    """The sound [shape=(n,)], and where every spark that is in it truly began."""

    samples: NDArray[np.float32]
    spark_frames: FloatArray
    spark_turns: FloatArray  # crank angle of each spark, in turns


def make_channel(
    ignition: Ignition,
    motion: Motion,
    duration_s: float,
    rng: np.random.Generator,
    engine_sound: FloatArray | None = None,
) -> PulseChannel:
    """Draw the channel; ``engine_sound`` [shape=(n,)] is what crosses over, largest value 1."""
    sparks_s, turns = spark_times(ignition, motion, duration_s, rng)
    frames = sparks_s * ignition.sample_rate_hz
    heights = _heights(ignition, motion, sparks_s, rng)
    is_there = rng.uniform(size=frames.size) >= ignition.missed_share
    for start_s, end_s in ignition.stops_s:
        is_there &= (sparks_s < start_s) | (sparks_s >= end_s)
    count = round(duration_s * ignition.sample_rate_hz)
    samples = ignition.noise_level * rng.normal(size=count)
    _ring(samples, frames[is_there], heights[is_there], ignition)
    _add_doubles(samples, frames[is_there], heights[is_there], ignition, rng)
    time_s = np.arange(count) / ignition.sample_rate_hz
    if ignition.hum_level:
        for harmonic in (1, 2, 3, 5, 7, 9, 11):
            phase = 2.0 * np.pi * (50.0 * harmonic * time_s + rng.uniform())
            samples += ignition.hum_level / harmonic * np.sin(phase)
    if engine_sound is not None:
        samples += ignition.crosstalk_level * engine_sound[:count]
    return PulseChannel(
        samples=np.clip(samples, -1.0, 1.0).astype(np.float32),
        spark_frames=frames[is_there],
        spark_turns=turns[is_there],
    )


def spark_times(
    ignition: Ignition, motion: Motion, duration_s: float, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """When each spark comes, and at which crank angle in turns."""
    grid_s = np.arange(0.0, duration_s, 0.5e-3)
    turns_on_grid = motion.revolutions(grid_s)
    advance = ignition.advance_deg / 360.0 * (1.0 - motion.load_at(grid_s))
    first = np.ceil((turns_on_grid[0] + 0.1) * ignition.pulses_per_turn)
    numbers = np.arange(first, np.floor(turns_on_grid[-1] * ignition.pulses_per_turn) - 1.0)
    nominal = numbers / ignition.pulses_per_turn
    nominal += ignition.jitter_deg / 360.0 * rng.normal(size=nominal.size)
    sparks_s = np.interp(nominal, turns_on_grid + advance, grid_s)
    for _ in range(3):  # the spline, not the grid, says when: Newton
        angle = motion.revolutions(sparks_s) + np.interp(sparks_s, grid_s, advance)
        sparks_s += (nominal - angle) / (motion.rpm(sparks_s) / 60.0)
    return sparks_s, motion.revolutions(sparks_s)


def _heights(
    ignition: Ignition, motion: Motion, sparks_s: FloatArray, rng: np.random.Generator
) -> FloatArray:
    heights = ignition.height * (motion.rpm(sparks_s) / 2000.0) ** ignition.height_exponent
    heights = heights * np.exp(ignition.height_variation * rng.normal(size=sparks_s.size))
    heights[1::2] *= ignition.alternate
    return np.asarray(ignition.polarity * heights)


def _add_doubles(
    samples: FloatArray,
    frames: FloatArray,
    heights: FloatArray,
    ignition: Ignition,
    rng: np.random.Generator,
) -> None:
    """An extra pulse 8 to 35 % of the interval after a true one, no sooner than 0.8 ms."""
    intervals = np.diff(frames, append=frames[-1:] + 1.0)
    after = rng.uniform(0.08, 0.35, size=frames.size) * intervals
    has = rng.uniform(size=frames.size) < ignition.double_share
    has &= after > 0.8e-3 * ignition.sample_rate_hz
    size = rng.uniform(0.5, 1.2, size=frames.size)
    _ring(samples, (frames + after)[has], (size * heights)[has], ignition)


def _ring(samples: FloatArray, frames: FloatArray, heights: FloatArray, ignition: Ignition) -> None:
    """Add a damped swing at each place."""
    shapes = _shapes(ignition)
    whole = np.floor(frames).astype(int)
    steps = np.floor((frames - whole) * _FINE).astype(int)
    lead = shapes.shape[1] // 4
    for at, step, height in zip(whole.tolist(), steps.tolist(), heights.tolist(), strict=True):
        start = at - lead
        if start >= 0 and start + shapes.shape[1] <= samples.size:
            samples[start : start + shapes.shape[1]] += height * shapes[step]


def _shapes(ignition: Ignition) -> FloatArray:
    """The swing as sampled [shape=(n_fractions, n)], begun a quarter of the way through."""
    rate_hz = ignition.sample_rate_hz * _FINE
    count = round(_LASTS_S * ignition.sample_rate_hz)
    time_s = np.arange(count * _FINE) / rate_hz
    swing = np.exp(-time_s / ignition.ring_decay_s) * np.cos(2 * np.pi * ignition.ring_hz * time_s)
    band = signal.firwin(8 * _FINE * 8 + 1, 0.45 * ignition.sample_rate_hz, fs=rate_hz)
    shapes = []
    for step in range(_FINE):
        late = np.zeros(count * _FINE)
        begun = count // 4 * _FINE + step
        late[begun:] = swing[: late.size - begun]
        limited = np.convolve(late, band, mode="same")  # as a converter without delay
        shapes.append(limited[::_FINE])
    return np.array(shapes)
