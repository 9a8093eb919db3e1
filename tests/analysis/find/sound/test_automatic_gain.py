"""A recorder that holds the level is noticed and undone; a free one is left as it is."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from analysis.find.drone import find_drone
from analysis.findings import Findings
from tests.drives import GeneratedDrive, generate, random_spec
from tests.roads import Leveller, drive_on, plain
from tests.roads.recorder import gain_of


@cache
def droning_drive() -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([77, 1]), bands=1, engine="6")
    return generate(replace(spec, legs=spec.legs[:4]), 1)


@cache
def free() -> Findings:
    return find_drone(droning_drive().drive())


@cache
def held(attack_s: float, release_s: float) -> Findings:
    drive = droning_drive()
    sound = 0.5 * drive.samples.astype(np.float64) / np.abs(drive.samples).max()
    leveller = Leveller(
        attack_s=attack_s,
        release_s=release_s,
        target_dbfs=-20.0,
        most_gain_db=40.0,
        gate_dbfs=None,
        strength=1.0,
    )
    levelled = np.clip(sound * gain_of(leveller, sound, drive.sample_rate_hz), -1.0, 1.0)
    return find_drone(replace(drive, samples=levelled.astype(np.float32)).drive())


def codes(findings: Findings) -> set[str]:
    return {doubt.code for doubt in findings.warnings}


@pytest.mark.parametrize(("attack_s", "release_s"), [(0.005, 0.3), (0.05, 1.0), (0.3, 5.0)])
def test_a_held_drone_comes_back(attack_s: float, release_s: float) -> None:
    findings = held(attack_s, release_s)
    assert "automatic_gain" in codes(findings)
    assert findings.level_was_held
    assert findings.withheld is None
    truth = droning_drive().truth.bands[0]
    found = next(b for b in findings.bands if b.engine_order == truth.engine_order)
    assert found.peak_hz == pytest.approx(truth.peak_hz, rel=0.01)
    # without a leveller the same band rises by as much, its level being rough with one
    assert found.rise_db == pytest.approx(free().bands[0].rise_db, abs=4.0)


def test_its_intervals_are_wider() -> None:
    def half(findings: Findings) -> float:
        interval = findings.bands[0].peak_hz_ci95
        return interval.high - interval.low

    assert half(held(0.05, 1.0)) > half(free())


def test_a_free_recorder_is_not_accused() -> None:
    assert "automatic_gain" not in codes(free())
    assert not free().level_was_held
    assert free().no_levels is None


def test_a_car_that_pulls_away_and_rolls_out_is_no_leveller() -> None:
    # a road from physics: standing, its tyres and wind are 30 dB and more below those of the sweep
    made = drive_on(plain(np.random.default_rng([14, 7002])), 7002)
    motion = made.truth.motion
    rows = pd.DataFrame({"time_s": motion.grid_s[::20], "rpm": motion.rpm[::20]})
    findings = find_drone(replace(made.drive(), telemetry=rows))
    assert made.spec.recorder.leveller is None
    assert not findings.level_was_held
    highest = max(made.truth.hills, key=lambda hill: hill.height_db)
    assert any(
        band.engine_order == highest.order and abs(band.peak_hz / highest.peak_hz - 1.0) < 0.03
        for band in findings.bands
    )


def test_a_background_that_goes_against_the_level_without_a_dip_is_no_leveller() -> None:
    made = drive_on(plain(np.random.default_rng([14, 8022])), 8022)
    motion = made.truth.motion
    rows = pd.DataFrame({"time_s": motion.grid_s[::20], "rpm": motion.rpm[::20]})
    findings = find_drone(replace(made.drive(), telemetry=rows))
    assert made.spec.recorder.leveller is None
    assert not findings.level_was_held
    assert findings.bands
