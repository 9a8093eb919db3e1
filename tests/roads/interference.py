"""What else sounds in a car: a steady hum, speech. Each has a root mean square of 1."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy import signal

from tests.roads.noise import decibels, unit
from tests.roads.spec import FloatArray, Hum

_VOWELS_HZ = (  # first three formants of a man's vowels, G. E. Peterson and H. L. Barney, 1952
    (270.0, 2290.0, 3010.0),
    (530.0, 1840.0, 2480.0),
    (730.0, 1090.0, 2440.0),
    (570.0, 840.0, 2410.0),
    (300.0, 870.0, 2240.0),
)
_FORMANT_WIDTH_HZ = 90.0  # judgement: width of a formant of speech


def hum(spec: Hum, time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """A tone with harmonics, at the level asked for."""
    knots_s = np.arange(0.0, time_s[-1] + 4.0, 2.0)
    wander = np.interp(time_s, knots_s, rng.normal(size=knots_s.size))
    step_s = float(time_s[1] - time_s[0])
    turns = np.cumsum(spec.frequency_hz * (1.0 + spec.wander_share * wander)) * step_s
    total = np.zeros(time_s.size)
    for number, level_db in enumerate(spec.harmonics_db, start=1):
        phase = rng.uniform(0.0, 2.0 * np.pi)
        total += decibels(level_db) * np.sin(2.0 * np.pi * number * turns + phase)
    return decibels(spec.level_db) * unit(total)


def speech(count: int, sample_rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Sentences with pauses: voiced syllables with gliding pitch and formants, and hisses."""
    out = np.zeros(count)
    at_s, end_s = float(rng.uniform(0.2, 2.0)), count / sample_rate_hz
    while at_s < end_s:
        pitch_hz = float(rng.uniform(90.0, 220.0))
        for _ in range(int(rng.integers(4, 16))):
            length_s = float(rng.uniform(0.08, 0.3))
            voiced = rng.uniform() < 0.8
            make = _syllable(pitch_hz, length_s, sample_rate_hz, rng)
            piece = make if voiced else _hiss(length_s / 2.0, sample_rate_hz, rng)
            _add(out, piece, round(at_s * sample_rate_hz))
            pitch_hz *= float(rng.uniform(0.92, 1.06))
            at_s += length_s + float(rng.uniform(0.0, 0.08))
        at_s += float(rng.uniform(0.4, 3.0))
    return _loud_where_it_sounds(out)


def _syllable(
    pitch_hz: float, length_s: float, sample_rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    time_s = np.arange(int(length_s * sample_rate_hz)) / sample_rate_hz
    glide = 1.0 + rng.uniform(-0.1, 0.1) * time_s / length_s
    turns = np.cumsum(pitch_hz * glide) / sample_rate_hz
    formants_hz = _VOWELS_HZ[int(rng.integers(len(_VOWELS_HZ)))]
    voice = np.zeros(time_s.size)
    for number in range(1, int(0.45 * sample_rate_hz / (1.1 * pitch_hz))):
        hz = number * pitch_hz
        throat = sum(
            1.0 / (1.0 + ((hz - each) / _FORMANT_WIDTH_HZ) ** 2) / (1 + index)
            for index, each in enumerate(formants_hz)
        )
        voice += (0.03 + throat) * np.sin(2.0 * np.pi * number * turns) / np.sqrt(number)
    return np.asarray(voice * np.sin(np.pi * time_s / length_s) * rng.uniform(0.4, 1.0))


def _hiss(length_s: float, sample_rate_hz: float, rng: np.random.Generator) -> FloatArray:
    noise = rng.normal(size=max(int(length_s * sample_rate_hz), 2))
    return np.asarray(0.15 * np.diff(noise, append=0.0) * np.hanning(noise.size))


def _add(out: FloatArray, piece: FloatArray, at: int) -> None:
    if at < out.size:
        out[at : at + piece.size] += piece[: out.size - at]


def _loud_where_it_sounds(sound: FloatArray) -> FloatArray:
    """Root mean square 1 over the time in which somebody speaks."""
    speaks = (
        np.abs(signal.lfilter([0.01], [1.0, -0.99], np.abs(sound))) > 1e-3 * np.abs(sound).max()
    )
    size = float(np.sqrt(np.mean(sound[speaks] ** 2))) if speaks.any() else 1.0
    return sound / max(size, 1e-12)
