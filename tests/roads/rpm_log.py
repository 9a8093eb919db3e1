"""The rpm rows as a logger would hold them: late, coarse, jittery, by a factor off."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pandas as pd
from scipy import signal

from tests.roads.driver import GRID_HZ, Motion
from tests.roads.spec import FloatArray, RpmLog

_SPEED_STEP_M_S = 1.0 / 3.6  # road speed comes in whole km/h; SAE J1979


def log_rows(spec: RpmLog, motion: Motion, rng: np.random.Generator) -> pd.DataFrame:
    """Rows with rising ``time_s``, ``rpm`` and perhaps ``road_speed_m_s``."""
    end_s = float(motion.grid_s[-1])
    first_s = float(rng.uniform(0.0, 1.0 / spec.rate_hz))
    taken_s = np.arange(first_s, end_s - spec.lag_s, 1.0 / spec.rate_hz)
    kept = rng.uniform(size=taken_s.size) >= spec.dropped_share
    if spec.gap_s > 0.0:
        gap_start_s = float(rng.uniform(0.2, 0.7)) * end_s
        kept &= (taken_s < gap_start_s) | (taken_s > gap_start_s + spec.gap_s)
    taken_s = taken_s[kept]
    rpm = spec.factor * np.interp(taken_s, motion.grid_s, smoothed(motion.rpm, spec.smoothing_s))
    rpm = rpm + spec.noise_rpm * rng.normal(size=rpm.size)
    spike = rng.uniform(size=rpm.size) < spec.spikes_per_minute / 60.0 / spec.rate_hz
    rpm = np.where(spike, rpm * rng.choice([0.0, 0.5, 2.0], size=rpm.size), rpm)
    stamp_s = taken_s + spec.lag_s + spec.jitter_s * rng.normal(size=taken_s.size)
    columns = {
        "time_s": np.round(np.sort(stamp_s), 4),
        "rpm": np.round(rpm / spec.step_rpm) * spec.step_rpm,
    }
    if spec.road_speed:
        speed = np.interp(taken_s, motion.grid_s, motion.speed_m_s)
        columns["road_speed_m_s"] = np.round(speed / _SPEED_STEP_M_S) * _SPEED_STEP_M_S
    rows = pd.DataFrame(columns)
    return rows[rows["time_s"].diff().fillna(1.0) > 0.0].reset_index(drop=True)


def late_s(spec: RpmLog) -> float:
    """How late the rows are against the crank; the filter's part is its delay at slow changes."""
    if spec.smoothing_s == 0.0:
        return spec.lag_s
    return spec.lag_s + 1.0 / (float(np.expm1(1.0 / (spec.smoothing_s * GRID_HZ))) * GRID_HZ)


def smoothed(rpm: FloatArray, time_constant_s: float) -> FloatArray:
    """Through the low-pass of an engine computer, on the grid."""
    if time_constant_s == 0.0:
        return rpm
    keep = float(np.exp(-1.0 / (time_constant_s * GRID_HZ)))
    return np.asarray(signal.lfilter([1.0 - keep], [1.0, -keep], rpm, zi=[keep * rpm[0]])[0])
