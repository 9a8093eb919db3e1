"""Songs from a car's loudspeakers: bass, chords, a voice, drums; silence between two songs.

Notes come and go, bend, tremble and glide; players come a little early or late; parts of a song are
louder than others; loudspeakers pass no deep bass and often lift what is just above it. Sizes are
judgement: what is heard in cars; they move only how music stands beside an engine.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy import signal

from tests.roads.noise import decibels, unit
from tests.roads.spec import FloatArray

_CHORDS = ((0, 4, 7), (0, 3, 7), (0, 3, 7, 10), (0, 5, 7))
_ROOTS = (0, 5, 7, 9, 2, 4)
_SCALE = (0, 2, 4, 7, 9, 12)
_VOWELS_HZ = ((300.0, 870.0), (530.0, 1840.0), (570.0, 840.0), (730.0, 1090.0))
_FORMANT_WIDTH_HZ = 90.0
_BARS_OF_A_PART = 4
_PARTIALS: FloatArray = np.arange(1.0, 9.0)

Notes = Iterator[tuple[float, FloatArray]]  # begin in seconds of the bar, and sound


@dataclass(frozen=True, slots=True, kw_only=True)
class _Style:
    """What one song is like. Pitches in semitones over ``key_hz``, the bass's; times in seconds."""

    rate_hz: float
    beat_s: float
    key_hz: float
    bars: tuple[tuple[int, tuple[int, ...]], ...]  # root and chord of each
    loose_s: float  # how early or late a player comes
    bass_notes: int  # a bar
    bass_bends: float  # share of its notes that glide into place
    chord_strokes: int  # a bar
    chords_last: float  # share of a stroke's time until they have died away by two thirds
    trembles: float  # vibrato, share of a pitch
    four_to_the_floor: bool

    @classmethod
    def drawn(cls, rate_hz: float, rng: np.random.Generator) -> "_Style":
        roots = rng.choice(_ROOTS, size=4).tolist()
        chords = [_CHORDS[int(each)] for each in rng.integers(len(_CHORDS), size=4)]
        return cls(
            rate_hz=rate_hz,
            beat_s=60.0 / float(rng.uniform(60.0, 150.0)),
            key_hz=55.0 * 2.0 ** (float(rng.uniform(-5.0, 7.0)) / 12.0),
            bars=tuple(zip(roots, chords, strict=True)),
            loose_s=float(rng.uniform(0.0, 0.015)),
            bass_notes=int(rng.choice([1, 2, 4, 4, 8])),
            bass_bends=float(rng.choice([0.0, 0.1, 0.5])),
            chord_strokes=int(rng.choice([1, 1, 2, 4, 8])),
            chords_last=float(rng.choice([0.3, 0.6, 3.0])),
            trembles=float(rng.uniform(0.005, 0.03)),
            four_to_the_floor=bool(rng.uniform() < 0.3),
        )


def music(count: int, sample_rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Songs one after the other, of a root mean square of 1 over the whole [shape=(count,)]."""
    out = np.zeros(count)
    end_s = count / sample_rate_hz
    # a drive begins anywhere in a song, and now and then before the radio is switched on
    at_s = float(rng.uniform(0.0, 0.3)) * end_s if rng.uniform() < 0.2 else 0.0
    left_s = float(rng.uniform(20.0, 240.0))
    while at_s < end_s:
        left_s = min(left_s, end_s - at_s)
        song = _song(left_s, _Style.drawn(sample_rate_hz, rng), rng)
        _add(out, unit(song), round(at_s * sample_rate_hz))
        at_s += left_s + float(rng.uniform(1.0, 4.0))
        left_s = float(rng.uniform(60.0, 240.0))
    return unit(_loudspeaker(out, sample_rate_hz, rng))


def _loudspeaker(sound: FloatArray, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Pressed together in level as songs are, bass lifted, deep bass lost."""
    sound = np.tanh(float(rng.uniform(0.3, 1.0)) * sound)
    low = signal.butter(1, 120.0, "lowpass", fs=rate_hz, output="sos")
    lift = decibels(float(rng.uniform(0.0, 9.0))) - 1.0
    sound = sound + lift * np.asarray(signal.sosfilt(low, sound))
    corner_hz = float(rng.uniform(35.0, 80.0))
    high = signal.butter(2, corner_hz, "highpass", fs=rate_hz, output="sos")
    return np.asarray(signal.sosfilt(high, sound))


def _song(length_s: float, style: _Style, rng: np.random.Generator) -> FloatArray:
    players: tuple[tuple[Callable[..., Notes], float, float], ...] = (
        # what is played, how loud, and how likely there is such a player
        (_bass, float(rng.uniform(0.4, 1.2)), 0.95),
        (_chords, float(rng.uniform(0.2, 0.6)), 0.9),
        (_voice, float(rng.uniform(0.4, 1.0)), 0.7),
        (_drums, float(rng.uniform(0.2, 1.0)), 0.75),
    )
    band = [(play, level) for play, level, likely in players if rng.uniform() < likely]
    out = np.zeros(round(length_s * style.rate_hz))
    bar_s = 4.0 * style.beat_s
    playing = band
    for number in range(int(length_s / bar_s) + 1):
        if number % _BARS_OF_A_PART == 0:
            part_level = decibels(float(rng.uniform(-6.0, 0.0)))
            playing = [each for each in band if rng.uniform() < 0.85] or band
        for play, level in playing:
            for begin_s, note in play(style, number, rng):
                late_s = number * bar_s + begin_s + style.loose_s * float(rng.normal())
                _add(out, part_level * level * note, max(round(late_s * style.rate_hz), 0))
    return out


def _bass(style: _Style, bar: int, rng: np.random.Generator) -> Notes:
    root, _ = style.bars[bar % 4]
    length_s = 4.0 * style.beat_s / style.bass_notes
    for number in range(style.bass_notes):
        step = root + float(rng.choice([0, 0, 0, 7, 12, -5]))
        bend = float(rng.choice([-2.0, 2.0])) if rng.uniform() < style.bass_bends else 0.0
        hz = style.key_hz * 2.0 ** ((step + _bent(bend, length_s, style.rate_hz)) / 12.0)
        yield number * length_s, _struck(hz, 1.0 / _PARTIALS**1.3, 0.6 * length_s, style, rng)


def _chords(style: _Style, bar: int, rng: np.random.Generator) -> Notes:
    root, chord = style.bars[bar % 4]
    length_s = 4.0 * style.beat_s / style.chord_strokes
    for number in range(style.chord_strokes):
        for step in chord:
            hz = 4.0 * style.key_hz * 2.0 ** ((root + step) / 12.0)
            pitch = hz * (1.0 + 0.3 * style.trembles * _trembling(length_s, style.rate_hz, rng))
            lasts_s = style.chords_last * length_s
            yield number * length_s, _struck(pitch, 1.0 / _PARTIALS**1.3, lasts_s, style, rng)


def _voice(style: _Style, bar: int, rng: np.random.Generator) -> Notes:
    """Two bars in three, notes of a beat or two that glide from one to the next."""
    if rng.uniform() < 0.33:
        return
    root, _ = style.bars[bar % 4]
    begin_s, step = 0.0, float(rng.choice(_SCALE))
    while begin_s < 3.5 * style.beat_s:
        length_s = style.beat_s * float(rng.choice([0.5, 1.0, 1.0, 2.0]))
        before, step = step, float(rng.choice(_SCALE))
        semitones = root + step + _bent(before - step, length_s, style.rate_hz)
        hz = 4.0 * style.key_hz * 2.0 ** (semitones / 12.0)
        hz = hz * (1.0 + style.trembles * _trembling(length_s, style.rate_hz, rng))
        vowel = _VOWELS_HZ[int(rng.integers(len(_VOWELS_HZ)))]
        partial_hz = _PARTIALS * float(hz.mean())
        throat = np.sum(
            [1.0 / (1.0 + ((partial_hz - at) / _FORMANT_WIDTH_HZ) ** 2) for at in vowel], axis=0
        )
        sung = _played(hz, (0.1 + throat) / np.sqrt(_PARTIALS), style.rate_hz, rng)
        yield begin_s, sung * np.sin(np.pi * np.arange(sung.size) / sung.size) ** 0.5
        begin_s += length_s


def _drums(style: _Style, bar: int, rng: np.random.Generator) -> Notes:
    del bar
    for eighth in range(8):
        begin_s = 0.5 * eighth * style.beat_s
        kick = eighth % 2 == 0 if style.four_to_the_floor else eighth in (0, 4)
        if kick or rng.uniform() < 0.1:
            yield begin_s, _kick(style.rate_hz)
        if eighth in (2, 6):
            yield begin_s, _hit(0.05, style.rate_hz, rng)
        yield begin_s, 0.3 * np.diff(_hit(0.02, style.rate_hz, rng), prepend=0.0)


def _kick(rate_hz: float) -> FloatArray:
    time_s = np.arange(int(0.25 * rate_hz)) / rate_hz
    turns = np.cumsum(50.0 + 60.0 * np.exp(-time_s / 0.03)) / rate_hz
    return np.asarray(2.0 * np.sin(2.0 * np.pi * turns) * np.exp(-time_s / 0.08))


def _hit(lasts_s: float, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    time_s = np.arange(int(5.0 * lasts_s * rate_hz)) / rate_hz
    return np.asarray(rng.normal(size=time_s.size) * np.exp(-time_s / lasts_s))


def _bent(semitones: float, length_s: float, rate_hz: float) -> FloatArray:
    """A glide from so many semitones beside the note into it."""
    return np.asarray(semitones * np.exp(-np.arange(int(length_s * rate_hz)) / (0.06 * rate_hz)))


def _trembling(length_s: float, rate_hz: float, rng: np.random.Generator) -> FloatArray:
    """Vibrato of 4.5 to 6.5 Hz, -1 to 1."""
    time_s = np.arange(int(length_s * rate_hz)) / rate_hz
    return np.asarray(np.sin(2.0 * np.pi * (float(rng.uniform(4.5, 6.5)) * time_s + rng.uniform())))


def _struck(
    hz: FloatArray, partials: FloatArray, lasts_s: float, style: _Style, rng: np.random.Generator
) -> FloatArray:
    """A note that dies away in that time, and stops before the next one."""
    age_s = np.arange(hz.size) / style.rate_hz
    ends = np.clip((age_s[-1] - age_s) / 0.02, 0.0, 1.0)
    rises = np.minimum(age_s / 0.01, 1.0)
    return np.asarray(
        _played(hz, partials, style.rate_hz, rng) * rises * ends * np.exp(-age_s / lasts_s)
    )


def _played(
    hz: FloatArray, partials: FloatArray, rate_hz: float, rng: np.random.Generator
) -> FloatArray:
    """A tone with partials whose pitch may change, in hertz at each sample."""
    turns = np.cumsum(hz) / rate_hz
    tone = np.zeros(hz.size)
    for number, size in zip(_PARTIALS.tolist(), partials.tolist(), strict=True):
        if number * float(hz.max()) < 0.45 * rate_hz:
            tone += size * np.sin(2.0 * np.pi * (number * turns + rng.uniform()))
    return tone


def _add(out: FloatArray, piece: FloatArray, at: int) -> None:
    if at < out.size:
        out[at : at + piece.size] += piece[: out.size - at]
