"""Road speed alone is lined up by its gears, on drives whose delay is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.find.drone import find_drone
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.speed.road_delay import road_delay
from analysis.findings import TelemetryDelay
from tests.drives import DriveSpec, Leg, Resonator, generate
from tests.drives.motion import drive_motion
from tests.drives.spec import TelemetrySpec
from tests.drives.telemetry import telemetry_rows

NOISE_M_S = 0.15  # of a satellite receiver; common practice, no source
TWO_GEARS = (
    Leg(duration_s=3.0, end_rpm=1200.0, gear=3, load=0.6),
    Leg(duration_s=24.0, end_rpm=3600.0, gear=3),
    Leg(duration_s=20.0, end_rpm=1300.0, gear=3, load=0.8),
    Leg(duration_s=1.5, end_rpm=1200.0, gear=None, load=0.3),
    Leg(duration_s=24.0, end_rpm=3300.0, gear=4),
)
CRUISE = (Leg(duration_s=60.0, end_rpm=2400.0, gear=4, load=0.5),)


def spec_of(legs: tuple[Leg, ...], late_s: float) -> DriveSpec:
    log = TelemetrySpec(rate_hz=1.0, delay_s=late_s, road_speed_step_m_s=0.01)
    return DriveSpec(
        legs=legs,
        start_rpm=legs[0].end_rpm,
        exhaust=(Resonator(frequency_hz=96.0, gain=3.0, q=8.0),),
        telemetry=log,
    )


def received(rows: pd.DataFrame) -> pd.DataFrame:
    """As a receiver would give them: no engine speed, and a road speed that strays."""
    stray = NOISE_M_S * np.random.default_rng(3).normal(size=len(rows.index))
    road_speed = (rows["road_speed_m_s"] + stray).clip(lower=0.0)
    return rows.drop(columns="rpm").assign(road_speed_m_s=road_speed)


def delay_of(legs: tuple[Leg, ...], late_s: float) -> TelemetryDelay | None:
    spec, rng = spec_of(legs, late_s), np.random.default_rng(8)
    motion = drive_motion(spec, rng)
    rows = received(telemetry_rows(spec.telemetry, motion, spec.duration_s, rng))
    time_s = np.arange(0.0, spec.duration_s, 0.02)
    rpm = motion.rpm(time_s) * np.exp(0.003 * rng.normal(size=time_s.size))
    return road_delay(rows, SpeedTrack(start_s=0.0, step_s=0.02, rpm=rpm), spec.duration_s)


@pytest.mark.parametrize("late_s", [-4.0, 0.0, 1.0, 3.5, 15.0])
def test_the_delay_is_that_which_draws_the_gears_together(late_s: float) -> None:
    delay = delay_of(TWO_GEARS, late_s)
    assert delay is not None
    assert delay.delay_s == pytest.approx(late_s, abs=0.2)
    assert delay.ci95_s.low - 0.1 < late_s < delay.ci95_s.high + 0.1


def test_a_steady_speed_tells_no_delay() -> None:
    assert delay_of(CRUISE, 1.0) is None


def test_two_gears_are_two_though_the_log_is_late() -> None:
    made = generate(spec_of(TWO_GEARS, 1.5), seed=14)
    findings = find_drone(replace(made.drive(), telemetry=received(made.telemetry)))
    assert findings.telemetry_delay is not None
    assert findings.telemetry_delay.delay_s == pytest.approx(1.5, abs=0.2)
    assert len(findings.gear_ratios) == 2
    assert "telemetry_unaligned" not in [doubt.code for doubt in findings.warnings]
