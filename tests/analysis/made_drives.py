"""Small drives in closed form: a sum of engine orders along a known engine speed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Engine, Sound
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy

RATE_HZ = 4000.0  # the working copy of such a sound is the sound itself
SIX = Engine(cylinders=6)
PULSES = {0.5: 0.02, 1.0: 0.02, 1.5: 0.05, 3.0: 0.2, 4.5: 0.05, 6.0: 0.1, 9.0: 0.05}


def there_and_back(
    duration_s: float, low_rpm: float, high_rpm: float, rate_hz: float = RATE_HZ
) -> FloatArray:
    """Engine speed at each sample: an even climb in log speed, and back [shape=(n,)]."""
    time_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    part = 1.0 - np.abs(2.0 * time_s / duration_s - 1.0)
    return np.asarray(low_rpm * (high_rpm / low_rpm) ** part)


def wandering(duration_s: float, seed: int, rate_hz: float = RATE_HZ) -> FloatArray:
    """Engine speed that never tells the same story twice, 1000 to 4000 rpm [shape=(n,)]."""
    rng = np.random.default_rng(seed)
    knots_s = np.cumsum(
        np.concatenate([[0.0], rng.uniform(4.0, 15.0, size=int(duration_s / 4) + 2)])
    )
    log_rpm = np.log(rng.uniform(1000.0, 4000.0, size=knots_s.size))
    time_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    return np.exp(np.interp(time_s, knots_s, log_rpm))


def orders_sound(
    rpm: FloatArray,
    amplitude: Mapping[float, float] = PULSES,
    *,
    noise: float = 0.0,
    rate_hz: float = RATE_HZ,
) -> FloatArray:
    """Cosines in step with the crankshaft, and white noise of this standard deviation."""
    turns = np.cumsum(rpm) / 60.0 / rate_hz
    sound = noise * np.random.default_rng(5).normal(size=rpm.size)
    for order, size in amplitude.items():
        sound += size * np.cos(2.0 * np.pi * order * turns + order)
    return np.asarray(sound)


def rows(
    rpm: FloatArray,
    *,
    every_s: float = 0.25,
    delay_s: float = 0.0,
    drift_ppm: float = 0.0,
    step_rpm: float = 0.0,
    rate_hz: float = RATE_HZ,
) -> pd.DataFrame:
    """Telemetry rows of an engine speed given at each sample; a late row has a later time."""
    duration_s = rpm.size / rate_hz
    taken_s = np.arange(0.0, duration_s, every_s)
    values = np.interp(taken_s, np.arange(rpm.size) / rate_hz, rpm)
    if step_rpm:
        values = np.round(values / step_rpm) * step_rpm
    time_s = taken_s + delay_s + 1e-6 * drift_ppm * (taken_s - 0.5 * duration_s)
    return pd.DataFrame({"time_s": time_s, "rpm": values})


def drive_of(
    samples: FloatArray,
    telemetry: pd.DataFrame,
    *,
    engine: Engine | None = SIX,
    rate_hz: float = RATE_HZ,
) -> Drive:
    return Drive(
        name="made", engine=engine, sound=Sound.from_array(samples, rate_hz), telemetry=telemetry
    )


def copy_of(samples: FloatArray, rate_hz: float = RATE_HZ) -> WorkingCopy:
    """To be closed by whoever asked for it."""
    return WorkingCopy(Sound.from_array(samples, rate_hz), lambda part: None)


def true_track(rpm: FloatArray, rate_hz: float = RATE_HZ) -> SpeedTrack:
    """The engine speed given at each sample, on a grid of 20 ms."""
    every = round(0.02 * rate_hz)
    return SpeedTrack(start_s=0.0, step_s=every / rate_hz, rpm=rpm[::every].astype(np.float64))
