"""Spoil a good drive in one known way, to see that the fault is noticed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import signal

from tests.drives.generate import GeneratedDrive


def with_clipping(drive: GeneratedDrive, share_of_peak: float) -> GeneratedDrive:
    """Turn the gain up until full scale is at this share of the drive's highest peak."""
    gain = 1.0 / (share_of_peak * float(np.abs(drive.samples).max()))
    return replace(drive, samples=np.clip(gain * drive.samples, -1.0, 1.0).astype(np.float32))


def with_automatic_gain(
    drive: GeneratedDrive, *, strength: float = 0.7, time_constant_s: float = 0.4
) -> GeneratedDrive:
    """Level the loudness as a telephone does: ``strength`` of each change in dB is taken away."""
    samples = drive.samples.astype(np.float64)
    pole = float(np.exp(-1.0 / (time_constant_s * drive.sample_rate_hz)))
    mean_square = float(np.mean(samples**2))
    start = np.array([pole * mean_square])
    power, _ = signal.lfilter([1.0 - pole], [1.0, -pole], samples**2, zi=start)
    gain = (np.maximum(power, 1e-12) / mean_square) ** (-strength / 2.0)
    return replace(drive, samples=np.clip(gain * samples, -1.0, 1.0).astype(np.float32))


def with_telemetry_gap(
    drive: GeneratedDrive, *, start_s: float, duration_s: float
) -> GeneratedDrive:
    """Lose the rows of a stretch of time."""
    rows = drive.telemetry
    lost = rows["time_s"].between(start_s, start_s + duration_s)
    return replace(drive, telemetry=rows[~lost].reset_index(drop=True))


def with_sound_gaps(drive: GeneratedDrive, *gaps_s: tuple[float, float]) -> GeneratedDrive:
    """Lose the sound of some stretches, from when to when: zeros there, and the gaps listed."""
    samples = drive.samples.copy()
    for start_s, end_s in gaps_s:
        first, last = (round(each_s * drive.sample_rate_hz) for each_s in (start_s, end_s))
        samples[max(first, 0) : last] = 0.0
    return replace(drive, samples=samples, sound_gaps_s=gaps_s)


def as_logged_live(drive: GeneratedDrive, *, rate_hz: float, seed: int) -> GeneratedDrive:
    """Log engine speed and road speed in turn, one reading a row, as an adapter answers.

    Three readings of four are of engine speed; the other cells of a row are empty.
    """
    rng = np.random.default_rng(seed)
    rows = drive.telemetry
    first_s, last_s = rows["time_s"].iloc[[0, -1]]
    steps_s = rng.uniform(0.8, 1.2, size=int((last_s - first_s) * rate_hz)) / rate_hz
    time_s = first_s + np.cumsum(steps_s)
    turn = np.arange(time_s.size) % 4
    columns = {"time_s": time_s}
    for name, mine in (("rpm", turn != 3), ("road_speed_m_s", turn == 3)):
        columns[name] = np.where(mine, np.interp(time_s, rows["time_s"], rows[name]), np.nan)
    unused = np.full(time_s.size, np.nan)
    return replace(
        drive,
        telemetry=pd.DataFrame({**columns, "load_percent": unused, "half_round_trip_s": unused}),
    )


def with_speech(
    drive: GeneratedDrive, *, level_db_spl: float = 72.0, seed: int = 0
) -> GeneratedDrive:
    """Add a talker: phrases of voiced syllables, harmonics of a gliding voice under formants."""
    rng = np.random.default_rng(seed)
    rate = drive.sample_rate_hz
    count = drive.samples.size
    time_s = np.arange(count) / rate
    knots_s = np.arange(0.0, time_s[-1] + 0.4, 0.2)
    voice_hz = np.interp(time_s, knots_s, rng.uniform(95.0, 150.0, knots_s.size))
    phase = 2.0 * np.pi * np.cumsum(voice_hz) / rate
    voice = np.zeros(count)
    for harmonic in range(1, 13):
        middle_hz = 120.0 * harmonic
        formants = 1.0 / (1.0 + ((middle_hz - 500.0) / 150.0) ** 2) + 0.15
        voice += formants * np.sin(harmonic * phase + rng.uniform(0.0, 2.0 * np.pi))
    syllables = np.interp(time_s, knots_s, rng.choice([0.0, 0.3, 1.0], knots_s.size))
    phrases = np.interp(time_s, *_phrases(time_s[-1], rng))
    voice *= syllables * phrases
    spoken = voice[phrases > 0.5]
    size = 10.0 ** ((level_db_spl - drive.spec.full_scale_db_spl) / 20.0) / np.sqrt(2.0)
    voice *= size / max(float(np.sqrt(np.mean(spoken**2))), 1e-12)
    mixed = np.clip(drive.samples + voice, -1.0, 1.0)
    return replace(drive, samples=mixed.astype(np.float32))


def _phrases(end_s: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    edges_s = np.cumsum(rng.uniform(1.5, 4.0, size=int(end_s / 1.5) + 4))
    knots_s = np.stack([edges_s, edges_s + 0.05], axis=1).ravel()
    talks = np.tile([0.0, 1.0, 1.0, 0.0], edges_s.size // 2 + 1)[: knots_s.size]
    return knots_s, talks


def with_roll_off(drive: GeneratedDrive, corner_hz: float, order: int = 2) -> GeneratedDrive:
    """Record through a high-pass filter, as small microphones and voice recorders have."""
    sos = signal.butter(order, corner_hz, "highpass", fs=drive.sample_rate_hz, output="sos")
    return replace(drive, samples=signal.sosfilt(sos, drive.samples).astype(np.float32))
