"""The rpm rows as a logger would hold them: late, coarse, jittery, on a clock of their own."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import signal

from analysis.basics.arrays import FloatArray
from tests.drives.motion import GRID_HZ, Motion
from tests.drives.spec import TelemetrySpec


def telemetry_rows(
    spec: TelemetrySpec, motion: Motion, duration_s: float, rng: np.random.Generator
) -> pd.DataFrame:
    """Rows with strictly rising ``time_s``; each holds the engine of ``row_lateness_s`` before."""
    first_s = float(rng.uniform(0.0, 1.0 / spec.rate_hz))
    count = int((duration_s - first_s) * spec.rate_hz)
    taken_s: FloatArray = first_s + np.arange(count, dtype=np.float64) / spec.rate_hz
    taken_s = taken_s[rng.uniform(size=taken_s.size) >= spec.dropped_share]
    rpm = np.interp(taken_s, motion.grid_s, _engine_computer(spec.smoothing_s, motion))
    stamp_s = clock_time_s(spec, taken_s + spec.delay_s)
    stamp_s = np.sort(stamp_s + spec.jitter_s * rng.normal(size=taken_s.size))
    columns = {"time_s": _quantised(stamp_s, 1e-4), "rpm": _quantised(rpm, spec.rpm_step)}
    if spec.road_speed:
        speed = motion.speed_at(taken_s)
        columns["road_speed_m_s"] = _quantised(speed, spec.road_speed_step_m_s)
    if spec.load:
        columns["load_percent"] = _quantised(100.0 * motion.load_at(taken_s), 100.0 / 255.0)
    rows = pd.DataFrame(columns)
    return rows[rows["time_s"].diff().fillna(1.0) > 0.0].reset_index(drop=True)


def clock_time_s(spec: TelemetrySpec, true_time_s: FloatArray) -> FloatArray:
    """What the telemetry's clock shows when the sound's clock shows ``true_time_s``."""
    return np.asarray(spec.clock_offset_s + true_time_s * (1.0 + 1e-6 * spec.clock_drift_ppm))


def row_lateness_s(spec: TelemetrySpec, true_time_s: float) -> float:
    """Row time minus the moment at which the engine had the row's rpm; positive is late.

    A low-pass of time constant T in the engine computer shows a ramp T late.
    """
    shown_s = clock_time_s(spec, np.array([true_time_s + spec.delay_s]))[0]
    return float(shown_s - true_time_s + spec.smoothing_s)


def _engine_computer(time_constant_s: float, motion: Motion) -> FloatArray:
    rpm = motion.rpm(motion.grid_s)
    if time_constant_s == 0.0:
        return rpm
    b, a = signal.bilinear([1.0], [time_constant_s, 1.0], GRID_HZ)
    smoothed, _ = signal.lfilter(b, a, rpm, zi=signal.lfilter_zi(b, a) * rpm[0])
    return np.asarray(smoothed)


def _quantised(values: FloatArray, step: float) -> FloatArray:
    return np.asarray(np.round(values / step) * step)
