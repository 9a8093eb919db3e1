"""Levels over engine speed: a known tone reads as the weightings of IEC 61672-1 say.

A and C at 10^1.8, 10^2 and 10^2.5 Hz are those printed in table 3 of IEC 61672-1:2013 (quoted
from a public copy of the table).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.find.sound.level_map import LevelsBySpeed, levels_by_speed
from tests.analysis.made_drives import RATE_HZ, copy_of, orders_sound, there_and_back, true_track

OFFSET_DB = 94.0
PRINTED_DIGIT_DB = 0.06


def mapped(samples: np.ndarray, rpm: np.ndarray) -> LevelsBySpeed:
    with copy_of(samples) as copy:
        return levels_by_speed(copy, true_track(rpm), OFFSET_DB, lambda part: None)


@pytest.mark.parametrize(
    ("exponent", "a_db", "c_db"), [(1.8, -26.2, -0.8), (2.0, -19.1, -0.3), (2.5, -6.6, 0.0)]
)
def test_a_tone_reads_as_the_standard_says(exponent: float, a_db: float, c_db: float) -> None:
    rpm = np.full(round(20.0 * RATE_HZ), 2000.0)
    tone = 0.2 * np.sin(2.0 * np.pi * 10.0**exponent * np.arange(rpm.size) / RATE_HZ)
    overall = mapped(tone, rpm).overall
    expected_db = 10.0 * np.log10(0.5 * 0.2**2) + OFFSET_DB
    assert overall.level_z_db == pytest.approx(expected_db, abs=0.02)
    assert overall.level_a_db == pytest.approx(expected_db + a_db, abs=PRINTED_DIGIT_DB)
    assert overall.level_c_db == pytest.approx(expected_db + c_db, abs=PRINTED_DIGIT_DB)
    assert overall.rpm == pytest.approx(2000.0, rel=0.011)


def test_below_20_hz_is_not_heard() -> None:
    rpm = np.full(round(20.0 * RATE_HZ), 2000.0)
    tone = 0.2 * np.sin(2.0 * np.pi * 8.0 * np.arange(rpm.size) / RATE_HZ)
    overall = mapped(tone, rpm).overall
    assert overall.level_z_db.max() < OFFSET_DB - 60.0


def test_the_map_shows_each_order_on_its_line() -> None:
    rpm = there_and_back(60.0, 1000.0, 4000.0)
    levels = mapped(orders_sound(rpm, {3.0: 0.2}, noise=1e-4), rpm)
    picture, overall = levels.picture, levels.overall
    assert picture.rpm.tolist() == overall.rpm.tolist()
    top_hz = picture.frequency_hz[np.argmax(picture.level_db, axis=1)]
    assert top_hz == pytest.approx(3.0 * picture.rpm / 60.0, rel=0.03, abs=2.1)
    assert overall.level_z_db == pytest.approx(10.0 * np.log10(0.02) + OFFSET_DB, abs=0.3)


def test_every_second_of_known_speed_counts_once() -> None:
    """Longer than one chunk of a minute, with a stretch of unknown speed."""
    rpm = there_and_back(150.0, 1000.0, 4000.0)
    track = true_track(rpm)
    track.rpm[(track.time_s > 70.0) & (track.time_s < 80.0)] = np.nan
    seen: list[float] = []
    with copy_of(orders_sound(rpm)) as copy:
        overall = levels_by_speed(copy, track, 0.0, seen.append).overall
    assert overall.seconds.sum() == pytest.approx(139.5, abs=0.5)
    assert seen == sorted(seen)


def test_a_quick_sweep_loses_no_engine_speed() -> None:
    rpm = there_and_back(10.0, 900.0, 5000.0)[: round(5.0 * RATE_HZ)]
    overall = mapped(orders_sound(rpm), rpm).overall
    assert overall.rpm.min() < 1150.0
    assert overall.rpm.max() > 4300.0


def test_just_below_the_first_bin() -> None:
    """Refined speed may fall a little short of the lowest that telemetry may say."""
    rpm = np.full(round(10.0 * RATE_HZ), 290.0)
    overall = mapped(orders_sound(rpm), rpm).overall
    assert overall.rpm.tolist() == [300.0]
