"""Bins of 1 %, and averages over them that keep the energy."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.basics.rpm_bins import BIN_RATIO, bin_centre_rpm, bin_of
from analysis.find.curves.driven import Driven
from analysis.find.curves.order_curves import binned
from analysis.find.curves.order_points import OrderPoints, comparable, pulled_away_rpm
from analysis.find.sound.order_tracking import HOP_S, ORDERS, OrderFrames
from tests.analysis.find.made_points import made_points


@given(st.integers(-50, 800))
def test_the_middle_of_a_bin_is_in_it(index: int) -> None:
    centre = bin_centre_rpm(np.array([index]))
    assert bin_of(centre).tolist() == [index]
    assert bin_of(centre * BIN_RATIO**0.499).tolist() == [index]
    assert bin_of(centre * BIN_RATIO**-0.499).tolist() == [index]
    assert bin_of(centre * BIN_RATIO).tolist() == [index + 1]


def frames_with(seed: int, count: int) -> OrderFrames:
    rng = np.random.default_rng(seed)
    return OrderFrames(
        time_s=0.1 * np.arange(count, dtype=np.float64),
        rpm=rng.uniform(900.0, 1100.0, size=count),
        total_ms=rng.uniform(0.1, 1.0, size=(count, ORDERS.size)).astype(np.float32),
        background_ms=rng.uniform(0.0, 0.1, size=(count, ORDERS.size)).astype(np.float32),
    )


@given(st.integers(0, 1000), st.integers(1, 200))
def test_averages_keep_time_and_energy(seed: int, count: int) -> None:
    frames = frames_with(seed, count)
    unknown = np.full(count, np.nan)
    driven = Driven(
        time_s=frames.time_s,
        rpm=frames.rpm,
        pass_index=np.arange(count) // 60,
        gear=unknown,
        road_speed_m_s=unknown,
        load_part=unknown,
    )
    points = binned(frames, driven)
    bins = points[0]
    assert bins.seconds.sum() == pytest.approx(HOP_S * count)
    energy = [np.dot(each.total_ms, each.seconds) for each in points]
    assert energy == pytest.approx(HOP_S * frames.total_ms.sum(axis=0), rel=1e-5)
    assert np.dot(bins.rpm, bins.seconds) == pytest.approx(HOP_S * frames.rpm.sum())
    pairs = list(zip(bins.pass_index.tolist(), bins.bin_index.tolist(), strict=True))
    assert len(set(pairs)) == len(pairs)
    assert np.abs(bin_of(bins.rpm) - bins.bin_index).max() <= 1


def points(pass_index: list[int], rpm: list[float]) -> OrderPoints:
    speed = np.array(rpm)
    passes, ones = np.array(pass_index), np.ones(speed.size)
    return made_points(2.0, passes, bin_of(speed), ones, 0.0 * ones, rpm=speed, seconds=0.1)


def test_rests_and_the_ends_of_a_pass_are_left_out_of_the_fit() -> None:
    up = bin_centre_rpm(np.arange(121, 232)).tolist()  # from 1000 rpm, which only this pass has
    again = bin_centre_rpm(np.arange(139, 232)).tolist()  # from 1196 rpm
    rest = [2986.0]
    passes = [0] * len(up) + [1] * len(again) + [2]
    (left,) = comparable([points(passes, up + again + rest)])
    assert set(left.pass_index.tolist()) == {0, 1}
    assert 1000.0 < left.rpm.min() < 1.05 * 1000.0
    assert left.rpm.max() < 0.99 * 2986.0


def test_a_drive_of_nothing_but_rests_keeps_them() -> None:
    steady = points([0, 1, 2, 3], [1000.0, 1500.0, 2000.0, 2500.0])
    assert comparable([steady])[0].rpm.tolist() == steady.rpm.tolist()
    assert comparable([]) == []


def test_a_car_pulls_away_up_to_where_a_second_pass_goes() -> None:
    up = bin_centre_rpm(np.arange(121, 232)).tolist()  # from 1000 rpm
    again = bin_centre_rpm(np.arange(139, 232)).tolist()  # from 1196 rpm
    both = points([0] * len(up) + [1] * len(again), up + again)
    assert pulled_away_rpm(both) == pytest.approx(1196.0, rel=0.01)
    assert pulled_away_rpm(points([0] * len(up), up)) == 0.0  # one sweep is all there is
