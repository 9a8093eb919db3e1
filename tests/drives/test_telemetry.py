"""The generator's telemetry: late, drifting, smoothed, quantised, as it was asked for."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.drives import (
    GeneratedDrive,
    Leg,
    TelemetrySpec,
    generate,
)
from tests.drives.spec import swept_spec

RATE_HZ = 8000.0


def rpm_error(drive: GeneratedDrive, delay_s: float) -> float:
    """Largest difference between a row and the engine ``delay_s`` before the row's time."""
    rows = drive.telemetry
    true_rpm = np.interp(rows["time_s"] - delay_s, drive.truth.time_s, drive.truth.rpm)
    inside = rows["time_s"].between(2.0 + delay_s, 30.0 + delay_s).to_numpy()
    return float(np.abs(rows["rpm"].to_numpy() - true_rpm)[inside].max())


def test_a_late_row_has_a_positive_delay() -> None:
    drive = generate(swept_spec(TelemetrySpec(delay_s=0.8, jitter_s=0.0, rpm_step=0.25)), seed=5)
    assert drive.truth.telemetry_delay_s == pytest.approx(0.8)
    assert rpm_error(drive, 0.8) < 0.5
    assert rpm_error(drive, -0.8) > 100.0


def test_clock_offset_and_drift_are_part_of_the_delay() -> None:
    telemetry = TelemetrySpec(
        delay_s=0.5, clock_offset_s=-12.0, clock_drift_ppm=200.0, jitter_s=0.0, rpm_step=0.25
    )
    drive = generate(swept_spec(telemetry), seed=5)
    middle_s = drive.spec.duration_s / 2.0
    assert drive.truth.telemetry_delay_s == pytest.approx(-11.5 + 200e-6 * (middle_s + 0.5))
    assert drive.truth.drift_ppm == 200.0
    assert rpm_error(drive, drive.truth.telemetry_delay_s) < 1.5


def test_engine_computer_smoothing_counts_as_delay() -> None:
    telemetry = TelemetrySpec(delay_s=0.2, smoothing_s=0.3, jitter_s=0.0, rpm_step=0.25)
    legs = (Leg(duration_s=40.0, end_rpm=3500.0, gear=3),)
    spec = replace(swept_spec(telemetry), legs=legs, sweep_wobble=0.0, speed_flutter_rpm=0.0)
    drive = generate(spec, seed=5)
    assert drive.truth.telemetry_delay_s == pytest.approx(0.5)
    rows = drive.telemetry[drive.telemetry["time_s"].between(5.0, 35.0)]
    true_rpm = np.interp(rows["time_s"] - 0.5, drive.truth.time_s, drive.truth.rpm)
    assert rows["rpm"].to_numpy() == pytest.approx(true_rpm, abs=0.5)


def test_rows_are_quantised_dropped_and_rising() -> None:
    telemetry = TelemetrySpec(rate_hz=20.0, jitter_s=0.02, rpm_step=25.0, dropped_share=0.2)
    rows = generate(swept_spec(telemetry), seed=5).telemetry
    assert 0.7 < len(rows) / (20.0 * 35.0) < 0.9
    assert (np.diff(rows["time_s"]) > 0.0).all()
    assert set(np.mod(rows["rpm"], 25.0)) == {0.0}
