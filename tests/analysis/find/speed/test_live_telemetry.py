"""Telemetry as a live logger leaves it: one reading a row, and not always all the way through."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.errors import DriveError
from analysis.find.drone import find_drone
from analysis.findings import Findings, LockedTo
from tests.drives import GeneratedDrive, generate, random_spec
from tests.drives.faults import as_logged_live

PEAK_WITHIN, DELAY_WITHIN_S = 0.01, 0.060


@pytest.fixture(scope="module")
def made() -> GeneratedDrive:
    """Two gears, one drone of the engine."""
    rng = np.random.default_rng([93, 1])
    return generate(random_spec(rng, bands=1, engine="6", gears=2), 1)


def found_in(drive: GeneratedDrive) -> Findings:
    """What was found, with the drone where it is."""
    findings = find_drone(drive.drive())
    truth = drive.truth.bands[0]
    (band,) = (each for each in findings.bands if each.engine_order == truth.engine_order)
    assert band.peak_hz == pytest.approx(truth.peak_hz, rel=PEAK_WITHIN)
    assert findings.telemetry_delay is not None
    assert findings.telemetry_delay.delay_s == pytest.approx(
        drive.truth.telemetry_delay_s, abs=DELAY_WITHIN_S
    )
    return findings


def codes(findings: Findings) -> set[str]:
    return {doubt.code for doubt in findings.warnings}


@pytest.mark.parametrize("rate_hz", [5.0, 20.0])
def test_one_reading_a_row(made: GeneratedDrive, rate_hz: float) -> None:
    """Road speed never shares a row with engine speed; the gears are told apart all the same."""
    live = as_logged_live(made, rate_hz=rate_hz, seed=2)
    both = live.telemetry[["rpm", "road_speed_m_s"]].notna()
    assert not both.all(axis=1).any()
    assert 0.7 < both["rpm"].mean() < 0.8
    findings = found_in(live)
    assert not codes(findings) & {"telemetry_gap", "telemetry_unaligned", "one_gear_only"}
    assert findings.bands[0].locked_to is LockedTo.ENGINE


def test_begins_late_and_stops_early(made: GeneratedDrive) -> None:
    live = as_logged_live(made, rate_hz=10.0, seed=3)
    rows = live.telemetry
    end_s = made.spec.duration_s
    part = rows[rows["time_s"].between(15.0, end_s - 10.0)].reset_index(drop=True)
    assert "telemetry_gap" in codes(found_in(replace(live, telemetry=part)))


def test_road_speed_lost_for_half_the_drive_is_not_made_up(made: GeneratedDrive) -> None:
    """A straight line between two speeds a minute apart would invent gears."""
    live = as_logged_live(made, rate_hz=10.0, seed=4)
    lost = live.telemetry["time_s"].between(0.3 * made.spec.duration_s, 0.8 * made.spec.duration_s)
    speed = live.telemetry["road_speed_m_s"].mask(lost)
    findings = find_drone(
        replace(live, telemetry=live.telemetry.assign(road_speed_m_s=speed)).drive()
    )
    shown = findings.engine_speed
    inside = (shown.time_s > 0.35 * made.spec.duration_s) & (
        shown.time_s < 0.75 * made.spec.duration_s
    )
    assert np.isnan(shown.gear_index[inside]).all()


@pytest.mark.parametrize(
    "telemetry",
    [
        pd.DataFrame({"time_s": [], "rpm": []}, dtype=np.float64),
        pd.DataFrame({"time_s": [1.0, 2.0], "rpm": [np.nan, np.nan]}),
        pd.DataFrame({"time_s": [1.0, 2.0], "road_speed_m_s": [10.0, 11.0]}),
    ],
)
def test_neither_engine_speed_nor_cylinders_is_one_line_that_helps(
    made: GeneratedDrive, telemetry: pd.DataFrame
) -> None:
    with pytest.raises(DriveError, match="--telemetry") as refusal:
        find_drone(replace(replace(made, telemetry=telemetry).drive(), engine=None))
    assert "\n" not in str(refusal.value)
