"""Recorded engines to judge ``find`` by: clips that the caller has, and resonances put into them.

A clip is a sound file and, of the same name, a CSV with ``time_s`` and ``rpm``. Clips whose names
begin alike up to the last ``_`` are of one engine and one place.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile
from scipy import signal

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Sound
from analysis.find.sound.order_tracking import REVOLUTIONS, order_spectra
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy

_SOUND_FILES = (".opus", ".flac", ".wav", ".ogg")
_TRACK_STEP_S = 0.02
_CROSSFADE_S = 0.1
_SCALES = np.arange(-0.07, 0.0701, 0.002)  # how far the orders may lie from the trace
_LAGS_S = np.arange(-0.1, 0.11, 0.05)
_ORDERS = np.arange(0.5, 10.01, 0.5)
_STEP_COST, _AWAY_COST = 3.0, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """Sound [shape=(n,)] and engine speed at ``time_s``, both arrays [shape=(n_rows,)]."""

    name: str
    samples: FloatArray
    sample_rate_hz: float
    time_s: FloatArray
    rpm: FloatArray

    @property
    def duration_s(self) -> float:
        """Length of the sound."""
        return self.samples.size / self.sample_rate_hz


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """A resonance ``1 + gain / (1 + jx)``, x = (f / f0 - f0 / f) / width."""

    frequency_hz: float
    width: float
    gain: float

    @property
    def rise_db(self) -> float:
        """How far it lifts its own frequency."""
        return float(20.0 * np.log10(1.0 + self.gain))

    @property
    def edges_hz(self) -> tuple[float, float]:
        """Half-power points of the whole: |1 + g / (1 + jx)| has fallen to 1 / sqrt 2."""
        half = 0.5 * self.width * (1.0 + self.gain) / np.sqrt((1.0 + self.gain) ** 2 - 2.0)
        middle = np.sqrt(1.0 + half**2)
        return self.frequency_hz * (middle - half), self.frequency_hz * (middle + half)


def read_clips(folder: Path) -> list[Clip]:
    """All clips of a folder, in the order of their names, left channel."""
    found = sorted(file for file in folder.iterdir() if file.suffix in _SOUND_FILES)
    clips = []
    for file in found:
        samples, rate_hz = soundfile.read(file, always_2d=True)
        rows = pd.read_csv(file.with_suffix(".csv"))
        clips.append(
            Clip(
                name=file.stem,
                samples=samples[:, 0],
                sample_rate_hz=float(rate_hz),
                time_s=rows["time_s"].to_numpy(dtype=np.float64),
                rpm=rows["rpm"].to_numpy(dtype=np.float64),
            )
        )
    return clips


def long_drives(clips: list[Clip]) -> list[Clip]:
    """Clips of one engine and place one after the other, each faded into the next."""
    sets: dict[str, list[Clip]] = {}
    for clip in clips:
        sets.setdefault(clip.name.rsplit("_", 1)[0], []).append(clip)
    return [_joined(name, parts) for name, parts in sets.items() if len(parts) > 1]


def _joined(name: str, parts: list[Clip]) -> Clip:
    rate_hz = parts[0].sample_rate_hz
    fade = round(_CROSSFADE_S * rate_hz)
    ramp = np.sin(0.5 * np.pi * np.arange(fade) / fade)
    samples, time_s, rpm = parts[0].samples.copy(), parts[0].time_s, parts[0].rpm
    for part in parts[1:]:
        start_s = (samples.size - fade) / rate_hz
        samples[-fade:] = samples[-fade:] * ramp[::-1] + part.samples[:fade] * ramp
        samples = np.concatenate([samples, part.samples[fade:]])
        before = time_s < start_s
        time_s = np.concatenate([time_s[before], start_s + _CROSSFADE_S + part.time_s])
        rpm = np.concatenate([rpm[before], part.rpm])
    return Clip(
        name=f"{name} long", samples=samples, sample_rate_hz=rate_hz, time_s=time_s, rpm=rpm
    )


def with_peak(clip: Clip, peak: Peak) -> Clip:
    """Put a resonance into the sound, at its height in level."""
    b, a = signal.iirpeak(peak.frequency_hz, 1.0 / peak.width, fs=clip.sample_rate_hz)
    samples = clip.samples + peak.gain * signal.lfilter(b, a, clip.samples)
    return Clip(
        name=f"{clip.name} +{peak.rise_db:.0f} dB at {peak.frequency_hz:.0f} Hz",
        samples=samples / max(1.0, float(np.abs(samples).max())),
        sample_rate_hz=clip.sample_rate_hz,
        time_s=clip.time_s,
        rpm=clip.rpm,
    )


def logged(clip: Clip, track: SpeedTrack, rng: np.random.Generator) -> tuple[Drive, float]:
    """The clip with a log as some logger would have it, and how late its rows are."""
    rate_hz = float(np.exp(rng.uniform(0.0, np.log(20.0))))
    step_rpm = float(rng.choice([0.25, 1.0, 10.0, 25.0, 50.0]))
    late_s = float(rng.uniform(0.0, 1.5))
    taken_s = np.arange(rng.uniform(0.0, 1.0 / rate_hz), clip.duration_s, 1.0 / rate_hz)
    rpm = track.at(taken_s)
    known = np.isfinite(rpm)
    rows = pd.DataFrame(
        {
            "time_s": taken_s[known] + late_s,
            "rpm": np.round(rpm[known] / step_rpm) * step_rpm,
        }
    )
    sound = Sound.from_array(clip.samples, clip.sample_rate_hz)
    return Drive(name=clip.name, engine=None, sound=sound, telemetry=rows), late_s


def true_track(clip: Clip) -> SpeedTrack:
    """Engine speed by the sound's own orders near the trace: lag and scale first, then a path."""
    sound = Sound.from_array(clip.samples, clip.sample_rate_hz)
    with WorkingCopy(sound, _silent) as copy:
        candidates = []
        for lag_s in _LAGS_S:
            score = _scores(copy, _track(clip, lag_s, 0.0))[1]
            candidates.append((score.sum(axis=0).max(), lag_s, score.sum(axis=0).argmax()))
        _, lag_s, best = max(candidates)
        track = _track(clip, float(lag_s), float(_SCALES[best]))
        for _ in range(2):
            time_s, score = _scores(copy, track)
            rpm = track.rpm * (1.0 + np.interp(track.time_s, time_s, _path(score)))
            near = _track(clip, float(lag_s), 0.0).rpm
            rpm = np.clip(rpm, (1.0 + _SCALES[0]) * near, (1.0 + _SCALES[-1]) * near)
            track = SpeedTrack(start_s=track.start_s, step_s=track.step_s, rpm=rpm)
    return track


def _track(clip: Clip, lag_s: float, scale: float) -> SpeedTrack:
    time_s = np.arange(0.0, clip.duration_s, _TRACK_STEP_S)
    rpm = np.interp(time_s + lag_s, clip.time_s, clip.rpm) * (1.0 + scale)
    return SpeedTrack(start_s=0.0, step_s=_TRACK_STEP_S, rpm=rpm)


def _scores(copy: WorkingCopy, track: SpeedTrack) -> tuple[FloatArray, FloatArray]:
    """How far half orders stand over the gaps between them, for each scale."""
    times, scores = [], []
    for part in order_spectra(copy, track):
        level_db = 10.0 * np.log10(part.mean_square + 1e-14)
        level_db = np.clip(level_db - np.median(level_db, axis=1, keepdims=True), -10.0, 40.0)
        score = np.zeros((level_db.shape[0], _SCALES.size))
        lines = np.arange(level_db.shape[1])
        for order in _ORDERS:
            at = REVOLUTIONS * order * (1.0 + _SCALES)
            for row in range(level_db.shape[0]):
                on = np.interp(at, lines, level_db[row])
                off = np.interp(at - 4.0, lines, level_db[row])
                off += np.interp(at + 4.0, lines, level_db[row])
                score[row] += on - 0.5 * off
        times.append(part.time_s)
        scores.append(score)
    return np.concatenate(times), np.concatenate(scores)


def _path(score: FloatArray) -> FloatArray:
    """Scale at each frame by the path of least cost, finer than a step by a parabola."""
    states = np.arange(_SCALES.size)
    change = _STEP_COST * (states[:, np.newaxis] - states) ** 2
    value = score - _AWAY_COST * (states - states.size // 2) ** 2
    for frame in range(1, value.shape[0]):
        value[frame] += (value[frame - 1] - change).max(axis=1)
    path = np.empty(value.shape[0], dtype=np.int64)
    path[-1] = value[-1].argmax()
    for frame in range(value.shape[0] - 1, 0, -1):
        path[frame - 1] = (value[frame - 1] - change[path[frame]]).argmax()
    middle, frames = np.clip(path, 1, states.size - 2), np.arange(path.size)
    low, top, high = (score[frames, middle + step] for step in (-1, 0, 1))
    bend = np.minimum(low - 2.0 * top + high, -1e-6)
    part = np.clip(0.5 * (low - high) / bend, -1.0, 1.0)
    return np.asarray(_SCALES[middle] + part * (_SCALES[1] - _SCALES[0]))


def _silent(part: float) -> None:
    del part
