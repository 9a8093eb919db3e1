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
