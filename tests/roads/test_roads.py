"""Hostile drives as a whole: logs, wishes, troubles and layouts as asked."""
# SPDX-License-Identifier: GPL-2.0-or-later

import ast
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import tests.roads as roads
from tests.roads import (
    LAYOUTS,
    Driver,
    Leg,
    RoadSpec,
    Trouble,
    drive_on,
    random_road,
)
from tests.roads.codecs import FILE_CODECS
from tests.roads.driver import GRID_HZ, drive_motion
from tests.roads.rpm_log import late_s, log_rows, smoothed
from tests.roads.steady_drives import EXACT_LOG, drive_of


def test_the_room_shares_nothing_with_the_analysis_but_its_input_type() -> None:
    imported = set()
    for path in Path(roads.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                imported.add(node.module)
    own = {name for name in imported if name.startswith(("analysis", "logger", "tests"))}
    assert {name for name in own if not name.startswith("tests.roads")} == {"analysis.drive"}


@pytest.mark.parametrize("factor", [0.5, 1.0, 1.5, 2.0])
def test_rpm_log_is_off_by_its_factor_late_and_coarse(factor: float) -> None:
    truth = drive_of("plain").truth
    log = replace(EXACT_LOG, factor=factor, lag_s=0.8, step_rpm=10.0, rate_hz=5.0)
    rows = log_rows(log, truth.motion, np.random.default_rng(3))
    assert np.median(np.diff(rows["time_s"])) == pytest.approx(0.2, abs=1e-3)
    true = np.interp(rows["time_s"] - 0.8, truth.time_s, truth.rpm)
    assert np.abs(rows["rpm"] - factor * true).max() <= 5.01
    assert not np.any(rows["rpm"] % 10.0)


def test_a_smoothed_log_is_late_by_its_filter_too() -> None:
    log = replace(EXACT_LOG, lag_s=0.8, smoothing_s=0.2)
    climb = 100.0 * np.arange(0.0, 10.0, 1.0 / GRID_HZ)
    behind_s = (climb - smoothed(climb, log.smoothing_s))[-1] / 100.0
    assert late_s(log) == pytest.approx(0.8 + behind_s, abs=1e-4)


def test_speed_over_the_road_follows_the_engine_in_gear() -> None:
    made = drive_of("plain")
    motion, gearing = made.truth.motion, made.spec.driver.gearing
    gear = int(motion.gear.max())
    inside = np.convolve(motion.gear == gear, np.ones(301), "same") == 301
    want = motion.rpm[inside] * gearing.speed_m_s(1.0, gear)
    assert motion.speed_m_s[inside] == pytest.approx(want, rel=0.05)
    turns = np.gradient(motion.revolutions, motion.grid_s) * 60.0
    assert turns[5:-5] == pytest.approx(motion.rpm[5:-5], rel=0.02)


def test_wishes_are_kept_and_seeds_repeat() -> None:
    spec = random_road(
        np.random.default_rng(1), layout="5", trace="sweep", drones=2, troubles=(Trouble.HUM,)
    )
    assert len(spec.engine.cylinders) == 5
    assert spec.hum is not None
    assert spec.music_db is None
    assert spec == random_road(
        np.random.default_rng(1), layout="5", trace="sweep", drones=2, troubles=(Trouble.HUM,)
    )
    again = drive_on(drive_of("plain").spec, 3)
    assert np.array_equal(again.samples, drive_of("plain").samples)
    assert again.telemetry.equals(drive_of("plain").telemetry)


KINDS: dict[str, Callable[[RoadSpec], bool]] = {
    "levelled": lambda spec: spec.recorder.leveller is not None,
    "limited_sound": lambda spec: spec.recorder.limit_dbfs is not None,
    "clipped": lambda spec: spec.recorder.clip_db > 0.0,
    "through_codec": lambda spec: spec.recorder.codec in FILE_CODECS,
    "voice_codec": lambda spec: str(spec.recorder.codec).startswith("voice"),
    "dead_left": lambda spec: spec.recorder.dead_left,
    "with_hum": lambda spec: spec.hum is not None,
    "with_music": lambda spec: spec.music_db is not None,
    "with_speech": lambda spec: spec.speech_db is not None,
    "with_clicks": lambda spec: spec.noise.clicks_per_s > 0.0,
    "with_gusts": lambda spec: spec.noise.gust_db >= 8.0,
    "two_clocks": lambda spec: spec.recorder.drift_ppm != 0.0,
    "wrong_log": lambda spec: spec.log.factor in (0.5, 1.5, 2.0),
    "poor_log": lambda spec: spec.log.noise_rpm >= 5.0,
    "deactivating": lambda spec: spec.engine.deactivation is not None,
    "deactivating_in_gears": lambda spec: len({leg.gear for leg in spec.driver.legs} - {None}) == 3,
    "unequal_banks": lambda spec: abs(spec.car.bank_level_db) >= 2.0,
}


@pytest.mark.parametrize("name", KINDS)
def test_each_kind_has_its_trouble_and_plain_drives_have_none(name: str) -> None:
    for seed in range(5):
        assert KINDS[name](getattr(roads, name)(np.random.default_rng(seed)))
        if name not in ("unequal_banks", "deactivating_in_gears"):
            assert not KINDS[name](roads.plain(np.random.default_rng(seed)))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_drives(layout: str) -> None:
    spec = random_road(np.random.default_rng(8), layout=layout, trace="gears")
    spec = replace(spec, driver=replace(spec.driver, legs=spec.driver.legs[:4]))
    made = drive_on(spec, 8)
    assert np.isfinite(made.samples).all()
    assert 0.01 < np.abs(made.samples).max() <= 1.2  # a codec may overshoot
    assert made.drive(channel=made.samples.ndim - 1).sound is not None


def test_no_drive_begins_or_ends_with_a_leap_of_the_engine() -> None:
    """An idle of 700 rpm that hunts by 25 rpm strays by 125 rpm once in a million times."""
    driver = Driver(
        start_rpm=700.0,
        legs=(Leg(duration_s=8.0, end_rpm=700.0, gear=0, load=0.1),),
        flutter_rpm=0.0,
        idle_hunt_rpm=25.0,
    )
    for seed in range(40):
        rpm = drive_motion(driver, np.random.default_rng(seed)).rpm
        assert np.abs(rpm - 700.0).max() < 125.0
