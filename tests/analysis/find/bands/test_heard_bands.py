"""Only what a person would hear is a drone, and the loudest comes first."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.basics.interval import Interval
from analysis.find.bands.heard_bands import audible_bands
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, LockedTo, OverallCurve

RPM = np.linspace(1000.0, 4000.0, 200)
ANY = Interval(low=0.0, high=1.0)
BAND = DroneBand(
    engine_order=3.0,
    peak_rpm=2000.0,
    low_rpm=1900.0,
    high_rpm=2100.0,
    rise_db=10.0,
    level_db=80.0,
    locked_to=LockedTo.UNKNOWN,
    peak_hz_ci95=ANY,
    low_hz_ci95=ANY,
    high_hz_ci95=ANY,
)
QUIET = np.full(RPM.size, 0.0)


def order_at(level_db: float) -> OrderPoints:
    """One order of the same level everywhere; levels are 100 dB above 10 lg(mean square)."""
    return OrderPoints(
        engine_order=3.0,
        pass_index=np.zeros(RPM.size, dtype=np.int64),
        bin_index=np.arange(RPM.size),
        rpm=RPM,
        seconds=np.ones(RPM.size),
        total_ms=np.full(RPM.size, 10.0 ** (0.1 * (level_db - 100.0))),
        background_ms=np.zeros(RPM.size),
        window_s=np.ones(RPM.size),
    )


def heard(bands: list[DroneBand], loudest_db: float, overall_db: float) -> list[float]:
    overall = OverallCurve(
        rpm=RPM,
        level_z_db=QUIET + overall_db,
        level_c_db=QUIET,
        level_a_db=QUIET,
        seconds=QUIET,
    )
    points = [order_at(-20.0), order_at(loudest_db)]
    return [band.level_db for band in audible_bands(bands, points, overall, 100.0)]


def test_within_15_db_of_the_loudest_order_and_of_the_whole() -> None:
    assert heard([BAND], 94.0, 94.0) == [80.0]
    assert heard([BAND], 96.0, 94.0) == []
    assert heard([BAND], 94.0, 96.0) == []


def test_worst_first() -> None:
    bands = [replace(BAND, level_db=level) for level in (70.0, 80.0, 75.0, 40.0)]
    assert heard(bands, 80.0, 80.0) == [80.0, 75.0, 70.0]


def test_a_band_no_frame_lies_near_is_judged_by_the_whole_alone() -> None:
    far = replace(BAND, peak_rpm=6000.0)
    assert heard([far], 200.0, 80.0) == [80.0]
    assert heard([], 80.0, 80.0) == []
