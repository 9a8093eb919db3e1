"""Only what both drives hold is compared: generated drives whose true change is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.comparison import compare_drives
from analysis.find import find_drone
from analysis.findings import DroneBand, Findings
from analysis.verdicts import BandChange, Comparison
from tests.drives import DriveSpec, GeneratedDrive, Leg, SideBranch, TelemetrySpec, generate

RIGHT_WITHIN_DB = 1.5
SEED = 12


def sweeps(gear: int, *loads: float) -> tuple[Leg, ...]:
    """One slow climb in this gear for each load, and a fall after it, with rests between."""
    legs = [Leg(duration_s=3.0, end_rpm=1300.0, gear=gear, load=loads[0])]
    for load in loads:
        legs += [
            Leg(duration_s=20.0, end_rpm=3300.0, gear=gear, load=load),
            Leg(duration_s=2.0, end_rpm=3300.0, gear=gear, load=load),
            Leg(duration_s=16.0, end_rpm=1300.0, gear=gear, load=load),
        ]
    return tuple(legs)


def driven(
    *legs: Leg, outing: int, branch: bool = False, load: bool = True, speed: bool = True
) -> GeneratedDrive:
    spec = DriveSpec(
        start_rpm=1300.0,
        legs=legs,
        telemetry=TelemetrySpec(load=load, road_speed=speed),
        branch=SideBranch(tuned_hz=112.0) if branch else None,
    )
    return generate(spec, SEED, outing=outing)


def firing_change(comparison: Comparison) -> BandChange:
    return next(each for each in comparison.changes if each.band.engine_order == 3.0)


def true_change_db(before: GeneratedDrive, after: GeneratedDrive, band: DroneBand) -> float:
    """From the generator's filters, over the band where ``find`` put it."""
    power = [
        made.truth.car.band_mean_square(band.engine_order, band.low_rpm, band.high_rpm)
        for made in (before, after)
    ]
    return float(10.0 * np.log10(power[1] / power[0]))


def assert_right(change: BandChange, true_db: float) -> None:
    assert change.level_change_db == pytest.approx(true_db, abs=RIGHT_WITHIN_DB)
    assert change.ci95_db.low < true_db < change.ci95_db.high


@pytest.fixture(scope="module")
def before() -> GeneratedDrive:
    """Third gear, half load."""
    return driven(*sweeps(3, 0.5, 0.5), outing=0)


@pytest.fixture(scope="module")
def found_before(before: GeneratedDrive) -> Findings:
    return find_drone(before.drive())


def test_passes_at_full_load_in_another_gear_are_left_out(
    before: GeneratedDrive, found_before: Findings
) -> None:
    """Half load in third both times; the second drive adds full load, which is 6 dB louder."""
    after = driven(*sweeps(3, 0.5, 1.0), *sweeps(4, 1.0, 1.0), outing=1, branch=True)
    comparison = compare_drives(found_before, find_drone(after.drive()))
    change = firing_change(comparison)
    assert_right(change, true_change_db(before, after, change.band))
