"""The sessions in ``recorded_sessions`` are small, open, and hold what their page says."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from analysis.findings import LockedTo
from analysis.verdicts import Verdict
from logger.session import read_session
from tests.done_once import compared_once, found_once
from tests.drives import CarModel, TrueBand
from tests.drives.make_recorded_sessions import BASELINE, POSTFIX, SEED
from tests.drives.pulses import PulseTrain

SESSIONS = Path(__file__).parents[2] / "recorded_sessions"
MEGABYTE = 1_000_000


def test_sessions_are_small() -> None:
    sizes = {
        name: sum(file.stat().st_size for file in (SESSIONS / name).iterdir())
        for name in ("baseline", "postfix", "old_levels")
    }
    assert max(sizes.values()) < 3 * MEGABYTE
    assert sum(sizes.values()) < 8 * MEGABYTE


def test_sessions_open_without_trouble() -> None:
    for name in ("baseline", "postfix"):
        session = read_session(SESSIONS / name)
        assert session.metadata.trouble == ()
        assert session.sample_rate_hz == 8000.0
        assert 150.0 < session.frame_count / 8000.0 < 170.0
        assert set(session.telemetry.columns) == {"time_s", "rpm", "road_speed_m_s"}
    old = read_session(SESSIONS / "old_levels")
    assert old.audio_files == ()
    assert set(old.telemetry.columns) == {"time_s", "rpm", "level_a_db"}


@cache
def scenario() -> tuple[TrueBand, float]:
    """The drone before the work, and by how many dB its order changed, as the page says them."""
    pulses = PulseTrain.build(BASELINE.source, np.random.default_rng([SEED, 0]))
    before, after = CarModel(BASELINE, pulses), CarModel(POSTFIX, pulses)
    (drone,) = (band for band in before.bands if band.main)
    assert drone.engine_order == 3.0
    edges_rpm = (drone.low_rpm, drone.peak_rpm, drone.high_rpm)
    assert edges_rpm == pytest.approx((2065.0, 2259.0, 2398.0), abs=2.0)
    assert drone.rise_db == pytest.approx(13.2, abs=0.1)
    assert all(band.level_db < drone.level_db - 20.0 for band in after.bands if band.main)
    powers = [car.band_mean_square(3.0, drone.low_rpm, drone.high_rpm) for car in (before, after)]
    change_db = float(10.0 * np.log10(powers[1] / powers[0]))
    assert change_db == pytest.approx(-16.6, abs=0.1)
    return drone, change_db


def test_the_scenario_comes_out_of_the_files() -> None:
    """From file to verdict, within the limits that the project sets itself."""
    drone, change_db = scenario()
    baseline = found_once(read_session(SESSIONS / "baseline").drive())
    postfix = found_once(read_session(SESSIONS / "postfix").drive())
    found = max(baseline.bands, key=lambda band: band.level_db)
    assert found.engine_order == drone.engine_order
    assert found.peak_hz == pytest.approx(drone.peak_hz, rel=0.01)
    width_hz = drone.high_hz - drone.low_hz
    assert found.high_hz - found.low_hz == pytest.approx(width_hz, rel=0.25)
    assert found.locked_to is LockedTo.ENGINE
    assert baseline.telemetry_delay is not None
    assert baseline.telemetry_delay.delay_s == pytest.approx(0.4, abs=0.06)
    changes = compared_once(baseline, postfix).changes
    (change,) = (item for item in changes if item.band == found)
    assert change.verdict is Verdict.CURED
    assert change.level_change_db == pytest.approx(change_db, abs=1.0)


def test_the_old_levels_show_the_same_drone() -> None:
    drone, _ = scenario()
    findings = found_once(read_session(SESSIONS / "old_levels").drive())
    assert findings.levels_only
    worst = findings.bands[0]
    assert worst.engine_order == drone.engine_order
    assert worst.peak_hz == pytest.approx(drone.peak_hz, rel=0.02)
