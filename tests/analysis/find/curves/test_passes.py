"""Passes on zigzags whose turns are known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.curves.passes import pass_of, sweeps

ONE_GEAR = 0.0


def zigzag(corners_rpm: list[float], per_s: float = 0.05) -> FloatArray:
    """Frames of 0.1 s along straight lines of log speed, at this part per second."""
    parts = [
        np.linspace(
            np.log(a), np.log(b), max(2, round(abs(np.log(b / a)) / (0.1 * per_s))), endpoint=False
        )
        for a, b in pairwise(corners_rpm)
    ]
    return np.asarray(np.exp(np.concatenate([*parts, [np.log(corners_rpm[-1])]])))


def passes_of(rpm: FloatArray, gear: FloatArray | None = None) -> IntArray:
    time_s = 0.1 * np.arange(rpm.size, dtype=np.float64)
    return pass_of(time_s, rpm, np.full(rpm.size, ONE_GEAR) if gear is None else gear)


@given(
    st.lists(
        st.tuples(st.floats(1000.0, 1800.0), st.floats(2200.0, 4500.0)), min_size=1, max_size=4
    )
)
def test_every_climb_and_fall_is_a_pass(pairs: list[tuple[float, float]]) -> None:
    corners = [corner for pair in pairs for corner in pair]
    rpm = zigzag(corners)
    passes = passes_of(rpm)
    steps = np.diff(passes)
    assert set(steps.tolist()) <= {0, 1}
    turns = np.flatnonzero(steps) + 1
    # the engine is calm for a moment at each turn, which may be a short pass of its own
    assert np.count_nonzero(np.bincount(passes) > 15) == len(corners) - 1
    way = np.sign(np.diff(np.log(rpm)))
    for index in np.flatnonzero(np.diff(way)) + 1:
        assert np.abs(turns - index).min() <= 2


@given(st.integers(0, 2**32 - 1))
def test_a_wobble_of_less_than_six_percent_does_not_cut(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rpm = zigzag([1000.0, 4000.0], per_s=0.08)
    wobble = 0.025 * np.sin(np.arange(rpm.size) / rng.uniform(3.0, 6.0) + rng.uniform(0.0, 6.0))
    sizes = np.bincount(passes_of(rpm * np.exp(wobble)))
    assert sizes.max() > 0.3 * rpm.size


def test_a_rest_is_a_pass_of_its_own() -> None:
    rpm = np.concatenate([zigzag([1000.0, 3000.0]), np.full(60, 3000.0), zigzag([3000.0, 1000.0])])
    passes = passes_of(rpm)
    first, last = rpm.size // 2 - 20, rpm.size // 2 + 20
    assert np.unique(passes[first:last]).size == 1
    assert passes[first] not in passes[: first - 60]
    assert passes[first] not in passes[last + 60 :]


def test_a_change_of_gear_cuts_and_so_does_a_gap() -> None:
    rpm = zigzag([1000.0, 3000.0])
    gear = np.where(np.arange(rpm.size) < 100, 0.0, 1.0)
    assert np.flatnonzero(np.diff(passes_of(rpm, gear))).tolist() == [99]
    unknown = np.where(np.arange(rpm.size) < 100, np.nan, 1.0)
    assert np.flatnonzero(np.diff(passes_of(rpm, unknown))).tolist() == [99]
    time_s = 0.1 * np.arange(rpm.size, dtype=np.float64) + np.where(
        np.arange(rpm.size) < 50, 0.0, 2.5
    )
    cut = pass_of(time_s, rpm, np.full(rpm.size, ONE_GEAR))
    assert np.flatnonzero(np.diff(cut)).tolist() == [49]


def test_a_hiccup_of_the_logger_cuts_nothing() -> None:
    """0.3 s of sound lost at 1,100 rpm: no window of 16 revolutions reaches over it."""
    rpm = zigzag([1000.0, 3000.0])
    time_s = 0.1 * np.arange(rpm.size, dtype=np.float64)
    middle = float(np.interp(np.log(1100.0), np.log(rpm), time_s))
    heard = np.abs(time_s - middle) > 0.15 + 0.5 * 16.0 * 60.0 / 1100.0
    assert np.diff(time_s[heard]).max() > 1.0
    assert np.unique(pass_of(time_s[heard], rpm[heard], np.zeros(heard.sum()))).size == 1


def test_no_frames_no_passes() -> None:
    assert pass_of(np.empty(0), np.empty(0), np.empty(0)).size == 0
    assert passes_of(np.array([2000.0])).tolist() == [0]


def test_sweeps_are_passes_over_twelve_percent() -> None:
    passes = np.array([0, 0, 1, 1, 2, 2])
    rpm = np.array([1000.0, 1119.0, 1000.0, 1121.0, 3000.0, 1000.0])
    assert sweeps(passes, rpm).tolist() == [False, False, True, True, True, True]
    assert sweeps(np.empty(0, dtype=np.int64), np.empty(0)).size == 0
