"""What else sounds in a car: a steady hum, speech, music. Each has a root mean square of 1."""
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
# Common chords from their root: major, minor, minor seventh, suspended fourth; definition.
_CHORDS = ((0, 4, 7), (0, 3, 7), (0, 3, 7, 10), (0, 5, 7))
_ROOTS = (0, 5, 7, 9, 2, 4)  # steps of the major scale on which chords of songs stand; definition


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


def music(count: int, sample_rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """A song: four chords again and again with a bass line, and drums on the beat."""
    beat_s = 60.0 / float(rng.uniform(75.0, 150.0))
    key_hz = 55.0 * 2.0 ** (float(rng.integers(-5, 7)) / 12.0)  # of the bass
    roots = rng.choice(_ROOTS, size=4)
    chords = [_CHORDS[int(each)] for each in rng.integers(len(_CHORDS), size=4)]
    drums, bass = float(rng.uniform(0.2, 1.0)), float(rng.uniform(0.4, 1.2))
    out = np.zeros(count)
    for beat in range(int(count / sample_rate_hz / beat_s) + 1):
        at = round(beat * beat_s * sample_rate_hz)
        bar = (beat // 4) % 4
        root_hz = key_hz * 2.0 ** (roots[bar] / 12.0)
        if beat % 4 == 0:
            for step in chords[bar]:
                note = _note(
                    4.0 * root_hz * 2.0 ** (step / 12.0), 4.0 * beat_s, sample_rate_hz, rng
                )
                _add(out, 0.4 * note, at)
        walk = float(rng.choice([0, 0, 0, 7, 12]))
        _add(out, bass * _note(root_hz * 2.0 ** (walk / 12.0), beat_s, sample_rate_hz, rng), at)
        _add(out, drums * _drum(beat, sample_rate_hz, rng), at)
    return unit(out)


def _note(
    frequency_hz: float, length_s: float, sample_rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    time_s = np.arange(int(length_s * sample_rate_hz)) / sample_rate_hz
    tone = np.zeros(time_s.size)
    for number in range(1, 7):
        if number * frequency_hz < 0.45 * sample_rate_hz:
            phase = rng.uniform(0.0, 2.0 * np.pi)
            tone += np.sin(2.0 * np.pi * number * frequency_hz * time_s + phase) / number**1.3
    fade = np.minimum(time_s / 0.01, 1.0) * np.exp(-time_s / (0.6 * length_s))
    return np.asarray(tone * fade)


def _drum(beat: int, sample_rate_hz: float, rng: np.random.Generator) -> FloatArray:
    time_s = np.arange(int(0.25 * sample_rate_hz)) / sample_rate_hz
    if beat % 2 == 0:
        turns = np.cumsum(50.0 + 60.0 * np.exp(-time_s / 0.03)) / sample_rate_hz
        return np.asarray(2.0 * np.sin(2.0 * np.pi * turns) * np.exp(-time_s / 0.08))
    return np.asarray(rng.normal(size=time_s.size) * np.exp(-time_s / 0.05))


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
