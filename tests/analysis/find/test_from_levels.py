"""Old sessions without sound: rpm and width of the drone from a sound level meter's readings.

The readings come from the generated sound through the weightings and the fast time weighting of
IEC 61672-1. In a quiet car the drone is most of the unweighted and of the C-weighted level. The
A-weighting takes off 19 dB at 100 Hz and can hide it, so of A nothing is asked but to be right.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Engine
from analysis.find.drone import find_drone
from analysis.findings import Findings
from tests.drives import GeneratedDrive, Noise, TrueBand, generate, random_spec
from tests.drives.sound_level_meter import a_weighting, c_weighting, fast_level_db, z_weighting

PEAK_WITHIN, WIDTH_WITHIN = 0.01, 0.40  # other orders and noise stay in, which widens the band
WEIGHTINGS: dict[str, Callable[[FloatArray], FloatArray]] = {
    "level_a_db": a_weighting,
    "level_c_db": c_weighting,
    "level_z_db": z_weighting,
}
QUIET_ROAD = Noise(road_db_spl=70.0, wind_db_spl=66.0)


@cache
def quiet_car(engine: str, seed: int, bands: int = 1) -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([79, seed]), bands=bands, engine=engine)
    loud = replace(spec.source, level_db_spl=86.0)
    return generate(replace(spec, source=loud, noise=QUIET_ROAD, legs=spec.legs[:4]), seed)


@cache
def found_in_levels(engine: str, seed: int, column: str, late_s: float = 0.0) -> Findings:
    """What is found in such rows; a car's other rows differ in weighting and lateness."""
    return find_drone(with_meter(quiet_car(engine, seed), column, late_s))


def with_meter(made: GeneratedDrive, column: str, late_s: float = 0.0) -> Drive:
    """Rows of a meter that also logs rpm: level to 0.1 dB at 4 Hz, rpm ``late_s`` behind."""
    time_s = np.arange(1.0, made.spec.duration_s - 1.0, 0.25)
    level_db = fast_level_db(
        made.samples.astype(np.float64),
        made.sample_rate_hz,
        made.spec.full_scale_db_spl,
        time_s,
        WEIGHTINGS[column],
    )
    rpm = np.interp(time_s - late_s, made.truth.time_s, made.truth.rpm)
    return Drive(
        name="old",
        engine=Engine(cylinders=made.spec.source.cylinders),
        sound=None,
        telemetry=pd.DataFrame({"time_s": time_s, "rpm": rpm, column: np.round(level_db, 1)}),
    )


def firing_band(made: GeneratedDrive) -> TrueBand:
    order = made.spec.source.cylinders / 2.0
    return next(band for band in made.truth.bands if band.engine_order == order)


def assert_right(findings: Findings, truth: TrueBand) -> None:
    worst = findings.bands[0]
    assert worst.engine_order == truth.engine_order
    assert worst.peak_rpm == pytest.approx(truth.peak_rpm, rel=PEAK_WITHIN)
    width = truth.high_rpm - truth.low_rpm
    assert worst.high_rpm - worst.low_rpm == pytest.approx(width, rel=WIDTH_WITHIN)


CASES = [("4", 0), ("4", 1), ("6", 2), ("6", 3), ("8", 4), ("8", 5)]


@pytest.mark.parametrize(("engine", "seed"), CASES)
def test_rpm_and_width_of_the_drone(engine: str, seed: int) -> None:
    column = ("level_c_db", "level_z_db")[seed % 2]  # alike in the range of drones
    findings = found_in_levels(engine, seed, column)
    assert_right(findings, firing_band(quiet_car(engine, seed)))
    assert findings.levels_only
    codes = [doubt.code for doubt in findings.warnings]
    assert codes[:2] == ["levels_only", "one_gear_only"]
    assert "assumed" in findings.warnings[0].message
    assert findings.level_unit == {"level_c_db": "dB(C)", "level_z_db": "dB"}[column]


@pytest.mark.parametrize(("engine", "seed"), CASES)
def test_a_weighted_levels_are_right_or_silent(engine: str, seed: int) -> None:
    made = quiet_car(engine, seed)
    for band in found_in_levels(engine, seed, "level_a_db").bands:
        truth = firing_band(made)
        nearest = min(made.truth.bands, key=lambda each: abs(each.peak_rpm / band.peak_rpm - 1.0))
        assert band.engine_order == truth.engine_order
        assert band.peak_rpm == pytest.approx(nearest.peak_rpm, rel=0.03)


@pytest.mark.parametrize("late_s", [0.0, 2.0])
def test_late_rpm_is_put_right(late_s: float) -> None:
    """The meter's fast weighting is itself 0.125 s behind the sound."""
    findings = found_in_levels("6", 2, "level_c_db", late_s)
    assert findings.telemetry_delay is not None
    assert findings.telemetry_delay.delay_s == pytest.approx(late_s - 0.125, abs=0.15)
    assert_right(findings, firing_band(quiet_car("6", 2)))


@pytest.mark.parametrize("column", list(WEIGHTINGS))
def test_no_drone_no_band(column: str) -> None:
    findings = find_drone(with_meter(quiet_car("6", 6, bands=0), column))
    assert findings.bands == ()
    assert "one_gear_only" not in {doubt.code for doubt in findings.warnings}


@pytest.mark.parametrize(("column", "said"), [("level_a_db", True), ("level_c_db", False)])
def test_what_a_weighting_hides_is_said(column: str, *, said: bool) -> None:
    """IEC 61672-1:2013, table 3: -19.1 dB at 100 Hz."""
    findings = found_in_levels("6", 2, column)
    message = findings.warnings[0].message
    assert ("takes about 19 dB off at 100 Hz (IEC 61672-1)" in message) == said


def test_a_gap_is_said() -> None:
    drive = with_meter(quiet_car("6", 2), "level_c_db")
    rows = drive.telemetry[~drive.telemetry["time_s"].between(20.0, 26.0)]
    findings = find_drone(replace(drive, telemetry=rows))
    assert "telemetry_gap" in {doubt.code for doubt in findings.warnings}


def test_levels_that_do_not_show_the_lag_say_so() -> None:
    drive = with_meter(quiet_car("6", 2), "level_c_db")
    flat = drive.telemetry.assign(level_c_db=70.0)
    findings = find_drone(replace(drive, telemetry=flat))
    assert findings.telemetry_delay is None
    assert "telemetry_unaligned" in {doubt.code for doubt in findings.warnings}


def test_road_speed_beside_the_levels_tells_the_gear() -> None:
    """Third gear of the generator, 1.4 times 3.5 turns of the engine for one of 1.95 m."""
    made = quiet_car("6", 2)
    old = with_meter(made, "level_c_db")
    speed = old.telemetry["rpm"] * made.spec.gearing.speed_m_s(1.0, 3)
    findings = find_drone(replace(old, telemetry=old.telemetry.assign(road_speed_m_s=speed)))
    assert findings.gear_ratios == pytest.approx([60.0 * 1.4 * 3.5 / 1.95], rel=0.03)
    (curve,) = findings.curves
    assert np.mean(curve.gear == 0.0) > 0.9
    (overall,) = findings.overall_passes
    assert overall.total_ms.tolist() == curve.total_ms.tolist()
    assert found_in_levels("6", 2, "level_c_db").gear_ratios == ()
