"""Gears from the ratio of engine speed to road speed, as coarse as cars give it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.curves.driven import driven_at
from analysis.findings import STANDING

KMH = 1.0 / 3.6


def drive_through(
    rpm_per_m_s: list[float], seed: int, step_m_s: float
) -> tuple[FloatArray, FloatArray, IntArray, pd.DataFrame]:
    """Frames of 0.1 s: a sweep of 30 s in each gear; rows of road speed at 4 Hz, rounded."""
    rng = np.random.default_rng(seed)
    sweep = np.geomspace(1500.0, 3800.0, 300)
    rpm = np.concatenate([sweep for _ in rpm_per_m_s])
    gear = np.repeat(np.arange(len(rpm_per_m_s), dtype=np.int64), 300)
    speed = rpm / np.array(rpm_per_m_s)[gear]
    time_s = 0.1 * np.arange(rpm.size, dtype=np.float64)
    at = np.arange(0.0, time_s[-1], 0.25)
    rounded = np.round(np.interp(at, time_s, speed) / step_m_s) * step_m_s
    rows = pd.DataFrame({"time_s": at, "road_speed_m_s": rounded})
    return time_s, rpm * np.exp(0.003 * rng.normal(size=rpm.size)), gear, rows


@given(
    st.floats(150.0, 220.0),
    st.lists(st.floats(1.25, 1.8), min_size=0, max_size=4),
    st.integers(0, 1000),
    st.sampled_from([0.01, KMH]),
)
def test_gears_are_told_apart_lowest_first(
    first_ratio: float, steps: list[float], seed: int, step_m_s: float
) -> None:
    """Rounding to 1 km/h is 6 % at walking pace and 1 % at 100 km/h."""
    ratios = [first_ratio / float(np.prod(steps[:n])) for n in range(len(steps) + 1)]
    time_s, rpm, gear, rows = drive_through(ratios, seed, step_m_s)
    found = driven_at(time_s, rpm, rows, time_s).gear
    known = np.isfinite(found)
    assert known.mean() > 0.9
    assert (found[known] == gear[known]).mean() > 0.97


def test_late_rows_are_put_right() -> None:
    time_s, rpm, gear, rows = drive_through([150.0, 100.0], 0, 0.01)
    late = rows.assign(time_s=rows["time_s"] + 5.0)
    found = driven_at(time_s, rpm, late, time_s + 5.0).gear
    known = np.isfinite(found)
    assert (found[known] == gear[known]).mean() > 0.98


def test_clutch_down_and_standing_still_are_no_gear() -> None:
    time_s, rpm, _, rows = drive_through([100.0], 0, KMH)
    standing = rows.assign(
        road_speed_m_s=np.where(rows["time_s"] < 5.0, 0.0, rows["road_speed_m_s"])
    )
    coasting = np.where(time_s > 29.2, 900.0, rpm)  # longer, it would look like a gear
    found = driven_at(time_s, coasting, standing, time_s).gear
    assert (found[time_s < 4.5] == STANDING).all()
    assert np.isnan(found[time_s > 29.2]).all()
    assert np.nanmax(found) == 0.0


@pytest.mark.parametrize(
    "rows",
    [
        pd.DataFrame({"time_s": [0.0, 10.0]}),
        pd.DataFrame({"time_s": [0.0, 10.0], "road_speed_m_s": [np.nan, np.nan]}),
        pd.DataFrame({"time_s": [0.0], "road_speed_m_s": [20.0]}),
        pd.DataFrame({"time_s": [0.0, 10.0], "road_speed_m_s": [1.0, 2.0]}),
        pd.DataFrame({"time_s": [100.0, 110.0], "road_speed_m_s": [20.0, 20.0]}),
    ],
)
def test_unknown_without_a_moving_car(rows: pd.DataFrame) -> None:
    time_s = np.arange(0.0, 10.0, 0.1)
    assert np.isnan(driven_at(time_s, np.full(time_s.size, 2000.0), rows, time_s).gear).all()


@pytest.mark.parametrize(
    ("columns", "expected"),
    [
        ({"load_percent": 60.0, "throttle_percent": 20.0}, 0.6),
        ({"load_percent": np.nan, "throttle_percent": 20.0}, 0.2),
        ({"manifold_pressure_kpa": 50.6625}, 0.5),
        ({}, np.nan),
    ],
)
def test_load_is_taken_from_the_best_column(columns: dict[str, float], expected: float) -> None:
    rows = pd.DataFrame({"time_s": np.arange(20.0), **columns})
    time_s = np.arange(1.0, 19.0, 0.1)
    state = driven_at(time_s, np.full(time_s.size, 2000.0), rows, time_s)
    assert state.load_part == pytest.approx(np.full(time_s.size, expected), nan_ok=True)
