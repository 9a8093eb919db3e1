"""Engine speed from the phase of its orders: exact where it can be heard, honest where not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import SpeedTrack, without_stairs
from analysis.find.speed.order_phase import speed_by_phase
from tests.analysis.made_drives import copy_of, orders_sound, true_track, wandering


def trembling(seed: int, part: float) -> tuple[FloatArray, FloatArray]:
    """A drive, and the same with a foot that trembles by ``part``, twice a second."""
    rpm = wandering(40.0, seed)
    knots = np.arange(0.0, 42.0, 0.5)
    shake = np.random.default_rng(seed).normal(size=knots.size)
    return rpm, rpm * (1.0 + part * np.interp(np.arange(rpm.size) / 4000.0, knots, shake))


def error_at(track: SpeedTrack, truth: FloatArray) -> tuple[FloatArray, FloatArray]:
    time_s = np.arange(3.0, 37.0, 0.1)
    return time_s, track.at(time_s) / true_track(truth).at(time_s) - 1.0


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_follows_a_trembling_foot(seed: int) -> None:
    """0.3 % wherever the orders stand clear; the log it starts from has no tremble at all."""
    calm, rpm = trembling(seed, 0.006)
    with copy_of(orders_sound(rpm, noise=0.1)) as copy:
        found, sigma = speed_by_phase(copy, true_track(calm))
    _, before = error_at(true_track(calm), rpm)
    time_s, after = error_at(found, rpm)
    assert np.mean(np.abs(before) > 0.003) > 0.3
    assert np.mean(np.abs(after) > 0.003) < 0.02
    held = np.abs(after) < 1.96 * np.interp(time_s, found.time_s, sigma)
    assert np.mean(held) > 0.85


def test_a_log_wrong_by_one_percent_is_put_right() -> None:
    rpm = wandering(40.0, 5)
    with copy_of(orders_sound(rpm, noise=0.05)) as copy:
        found, _ = speed_by_phase(copy, true_track(1.01 * rpm))
    assert np.sqrt(np.mean(error_at(found, rpm)[1] ** 2)) < 0.001


def test_noise_alone_moves_little_and_admits_it() -> None:
    rpm = wandering(40.0, 6)
    with copy_of(orders_sound(rpm, {}, noise=1.0)) as copy:
        found, sigma = speed_by_phase(copy, true_track(rpm))
    with copy_of(orders_sound(rpm, noise=0.05)) as copy:
        _, clear = speed_by_phase(copy, true_track(rpm))
    assert np.sqrt(np.mean(error_at(found, rpm)[1] ** 2)) < 0.005
    assert np.nanmedian(sigma) > 3.0 * np.nanmedian(clear)


def test_where_speed_is_not_known_it_stays_unknown() -> None:
    rpm = wandering(40.0, 7)
    track = true_track(rpm)
    track.rpm[500:900] = np.nan
    with copy_of(orders_sound(rpm, noise=0.05)) as copy:
        found, sigma = speed_by_phase(copy, track)
    assert np.array_equal(np.isnan(found.rpm), np.isnan(track.rpm))
    assert np.array_equal(np.isnan(sigma), np.isnan(track.rpm))


def test_stairs_of_a_coarse_log_become_a_line() -> None:
    """A climb of 40 rpm a second, rounded to 25 rpm ten times a second."""
    time_s = np.arange(0.0, 20.0, 0.1)
    truth = 1500.0 + 40.0 * time_s
    rounded = 25.0 * np.round(truth / 25.0)
    knots_s, knots = without_stairs(time_s, rounded)
    line = np.interp(time_s, knots_s, knots)
    inner = slice(10, -10)
    assert np.abs(line - truth)[inner].max() < 2.5
    assert np.abs(rounded - truth)[inner].max() > 11.0


def test_a_fine_log_is_left_as_it_is() -> None:
    time_s = np.arange(0.0, 20.0, 0.5)
    rpm = 1500.0 + 300.0 * np.sin(time_s)
    knots_s, knots = without_stairs(time_s, rpm)
    assert np.array_equal(knots_s, time_s)
    assert np.array_equal(knots, rpm)


def test_a_rest_keeps_its_middle() -> None:
    time_s = np.arange(0.0, 30.0, 0.5)
    rpm = np.where(time_s < 10.0, 2000.0, np.where(time_s < 20.0, 2500.0, 2000.0))
    knots_s, knots = without_stairs(time_s, rpm)
    assert np.interp([5.0, 15.0, 25.0], knots_s, knots).tolist() == [2000.0, 2500.0, 2000.0]
    assert np.interp(9.75, knots_s, knots) == 2250.0


def test_one_value_throughout() -> None:
    knots_s, knots = without_stairs(np.array([0.0, 1.0, 2.0]), np.full(3, 2000.0))
    assert knots_s[0] == 0.0
    assert knots_s[-1] == 2.0
    assert set(knots.tolist()) == {2000.0}
