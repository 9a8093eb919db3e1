"""Engine or road: a band seen gear by gear (common practice, no source)."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.band_lock import locked_to
from analysis.drive import FloatArray
from analysis.findings import DroneBand, Interval, LockedTo
from analysis.order_points import OrderPoints
from analysis.resonance_model import TREND_TERMS, ResonanceFit
from analysis.rpm_bins import bin_centre_rpm

ORDER, PEAK_HZ, WIDTH, GAIN = 3.0, 110.0, 0.12, 3.0
BINS = np.arange(125, 265)
RPM = bin_centre_rpm(BINS)
FIT = ResonanceFit(
    parameters=np.concatenate(
        [np.zeros(TREND_TERMS), [np.log(PEAK_HZ), np.log(WIDTH), np.log(GAIN), 0.0]]
    ),
    covariance=np.zeros((TREND_TERMS + 4, TREND_TERMS + 4)),
    reference_hz=(ORDER * RPM[0] / 60.0, ORDER * RPM[-1] / 60.0),
)
ANY = Interval(low=0.0, high=1.0)
BAND = DroneBand(
    engine_order=ORDER,
    peak_rpm=20.0 * PEAK_HZ,
    low_rpm=20.0 * PEAK_HZ * 0.94,
    high_rpm=20.0 * PEAK_HZ * 1.06,
    rise_db=12.0,
    level_db=80.0,
    locked_to=LockedTo.UNKNOWN,
    peak_hz_ci95=ANY,
    low_hz_ci95=ANY,
    high_hz_ci95=ANY,
)


def verdict(*shares: float, scatter_db: float = 0.5, used: slice = slice(None)) -> LockedTo:
    """One gear for each share of the band's rise that shows in it."""
    rng = np.random.default_rng(3)
    bins, rpm = BINS[used], RPM[used]
    level_db: list[FloatArray] = [
        share * FIT.rise_db(ORDER * rpm / 60.0) + scatter_db * rng.normal(size=rpm.size)
        for share in shares
    ]
    count = len(shares)
    points = OrderPoints(
        engine_order=ORDER,
        pass_index=np.repeat(np.arange(count), rpm.size),
        bin_index=np.tile(bins, count),
        rpm=np.tile(rpm, count),
        seconds=np.full(count * rpm.size, 0.3),
        total_ms=10.0 ** (0.1 * np.concatenate(level_db)),
        background_ms=np.full(count * rpm.size, 1e-3),
        window_s=np.full(count * rpm.size, 0.4),
    )
    gear = np.repeat(np.arange(count, dtype=np.float64), rpm.size)
    return locked_to(BAND, points, gear, FIT)


@pytest.mark.parametrize("shares", [(1.0, 1.0), (1.0, 0.85, 1.0), (0.8, 1.2)])
def test_seen_in_every_gear(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.ENGINE


@pytest.mark.parametrize("shares", [(1.0, 0.0), (0.0, 1.0, 0.1), (1.2, -0.2)])
def test_gone_in_another_gear(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.ROAD


@pytest.mark.parametrize("shares", [(1.0,), (0.45, 0.5), (1.0, 0.5)])
def test_neither(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.UNKNOWN


def test_gears_that_did_not_reach_the_band_say_nothing() -> None:
    assert verdict(1.0, 0.0, used=slice(0, 60)) is LockedTo.UNKNOWN
    assert verdict(1.0, 0.0, used=slice(78, 84)) is LockedTo.UNKNOWN


def test_unknown_gears_say_nothing() -> None:
    points = OrderPoints(
        engine_order=ORDER,
        pass_index=np.zeros(RPM.size, dtype=np.int64),
        bin_index=BINS,
        rpm=RPM,
        seconds=np.ones(RPM.size),
        total_ms=np.ones(RPM.size),
        background_ms=np.zeros(RPM.size),
        window_s=np.ones(RPM.size),
    )
    assert locked_to(BAND, points, np.full(RPM.size, np.nan), FIT) is LockedTo.UNKNOWN


def test_bins_of_a_drop_out_that_nobody_listed_say_nothing() -> None:
    """Not even a level of minus infinity decibels."""
    points = OrderPoints(
        engine_order=ORDER,
        pass_index=np.repeat([0, 1], RPM.size),
        bin_index=np.tile(BINS, 2),
        rpm=np.tile(RPM, 2),
        seconds=np.full(2 * RPM.size, 0.3),
        total_ms=10.0 ** (0.1 * np.tile(FIT.rise_db(ORDER * RPM / 60.0), 2)),
        background_ms=np.zeros(2 * RPM.size),
        window_s=np.full(2 * RPM.size, 0.4),
    )
    points.total_ms[RPM.size + 85 : RPM.size + 90] = 0.0
    gear = np.repeat([0.0, 1.0], RPM.size)
    assert locked_to(BAND, points, gear, FIT) is LockedTo.ENGINE
