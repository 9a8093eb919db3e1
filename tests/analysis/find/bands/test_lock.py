"""Engine or road: a band seen gear by gear (common practice, no source)."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.find.bands.lock import locked_to
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.bands.views import gear_views, load_views
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, GearView, LoadClass, LockedTo
from tests.analysis.find.made_points import made_points

ORDER, PEAK_HZ, WIDTH, GAIN = 3.0, 110.0, 0.12, 3.0
BINS = np.arange(125, 265)
RPM = bin_centre_rpm(BINS)
FIT = ResonanceFit(
    trend=np.zeros(2),
    modes=np.array([np.log(PEAK_HZ), np.log(WIDTH), np.log(GAIN), 0.0]),
    covariance=np.zeros((4, 4)),
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


def points_of(level_db: FloatArray, bins: IntArray) -> OrderPoints:
    """One pass for each row of ``level_db`` [shape=(n_passes, n_bins)]."""
    passes, count = level_db.shape
    return made_points(
        ORDER,
        np.repeat(np.arange(passes), count),
        np.tile(bins, passes),
        10.0 ** (0.1 * level_db.ravel()),
        np.full(level_db.size, 1e-3),
    )


def driven(
    points: OrderPoints,
    gear: FloatArray,
    *,
    load_part: FloatArray | None = None,
    rising: BoolArray | None = None,
) -> OrderPoints:
    """Say what the car did there: 60 rpm for each m/s in gear 0, less in higher gears."""
    speed = points.rpm / (60.0 - 15.0 * gear)
    return replace(
        points,
        rising=points.rising if rising is None else rising,
        gear=gear,
        road_speed_m_s=np.where(gear < 0.0, 0.0, speed),
        load_part=points.load_part if load_part is None else load_part,
    )


def views(
    shares: tuple[float, ...],
    gears: tuple[float, ...] | None = None,
    used: slice = slice(None),
) -> tuple[GearView, ...]:
    """One gear for each share of the band's rise that shows in it."""
    rng = np.random.default_rng(3)
    bins = BINS[used]
    rise_db = FIT.rise_db(ORDER * bin_centre_rpm(bins) / 60.0)
    level_db = np.stack([share * rise_db + 0.5 * rng.normal(size=bins.size) for share in shares])
    points = points_of(level_db, bins)
    gear = np.repeat(np.arange(len(shares)) if gears is None else gears, bins.size)
    return gear_views(BAND, driven(points, gear.astype(np.float64)), FIT)


def verdict(*shares: float, used: slice = slice(None)) -> LockedTo:
    return locked_to(views(shares, used=used))


@pytest.mark.parametrize("shares", [(1.0, 1.0), (1.0, 0.85, 1.0), (0.8, 1.2)])
def test_seen_in_every_gear(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.ENGINE


@pytest.mark.parametrize("shares", [(1.0, 0.0), (0.0, 1.0, 0.1), (1.2, -0.2)])
def test_gone_in_another_gear(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.ROAD


@pytest.mark.parametrize("shares", [(1.0,), (0.45, 0.5), (1.0, 0.5), (0.1, 0.0)])
def test_neither(shares: tuple[float, ...]) -> None:
    assert verdict(*shares) is LockedTo.UNKNOWN


def test_a_standstill_shows_the_engine_but_never_clears_it() -> None:
    """Without load a drone of the engine may be gone, without wheels one of the road is."""
    for shares, expected in (
        ((1.0, 1.0), LockedTo.ENGINE),  # standing, one gear
        ((0.0, 1.0), LockedTo.UNKNOWN),
        ((0.0, 1.0, 1.0), LockedTo.ENGINE),
        ((0.0, 1.0, 0.0), LockedTo.ROAD),
        ((1.0, 1.0, 0.0), LockedTo.UNKNOWN),  # one says engine, the other road
        ((1.0, 0.0), LockedTo.UNKNOWN),
    ):
        gears = tuple(float(number) for number in range(-1, len(shares) - 1))
        assert locked_to(views(shares, gears)) is expected, shares
    assert locked_to(views((1.0,), (-1.0,))) is LockedTo.UNKNOWN  # the speed sensor may be dead


def test_each_gear_has_its_road_speed() -> None:
    seen = {view.gear: view.road_speed_m_s for view in views((1.0, 1.0, 1.0), (-1.0, 0.0, 1.0))}
    assert seen[-1] == 0.0
    assert seen[0] == pytest.approx(BAND.peak_rpm / 60.0)
    assert seen[1] == pytest.approx(BAND.peak_rpm / 45.0)


def test_gears_that_did_not_reach_the_band_say_nothing() -> None:
    assert verdict(1.0, 0.0, used=slice(0, 60)) is LockedTo.UNKNOWN
    assert verdict(1.0, 0.0, used=slice(78, 84)) is LockedTo.UNKNOWN


def test_unknown_gears_say_nothing() -> None:
    points = points_of(np.zeros((1, BINS.size)), BINS)
    assert gear_views(BAND, driven(points, np.full(BINS.size, np.nan)), FIT) == ()


def test_bins_of_a_drop_out_that_nobody_listed_say_nothing() -> None:
    """Not even a level of minus infinity decibels."""
    points = points_of(np.tile(FIT.rise_db(ORDER * RPM / 60.0), (2, 1)), BINS)
    points.total_ms[RPM.size + 85 : RPM.size + 90] = 0.0
    gear = np.repeat([0.0, 1.0], RPM.size)
    assert locked_to(gear_views(BAND, driven(points, gear), FIT)) is LockedTo.ENGINE


def test_level_under_heavy_and_light_load() -> None:
    """Passes at 30 and 80 %; the heavy one is 6 dB louder in truth and has all of the rise."""
    rise_db = FIT.rise_db(ORDER * RPM / 60.0)
    points = points_of(np.stack([0.5 * rise_db, 6.0 + rise_db]), BINS)
    load = np.repeat([0.3, 0.8], RPM.size)
    points = driven(points, np.zeros(load.size), load_part=load)
    heavy, light = load_views(BAND, points, FIT, 100.0)
    assert (heavy.load, light.load) == (LoadClass.HEAVY, LoadClass.LIGHT)
    assert (heavy.load_part, light.load_part) == pytest.approx((0.8, 0.3))
    assert (heavy.share_of_rise, light.share_of_rise) == pytest.approx((1.0, 0.5), abs=0.02)
    inside = (BAND.low_rpm < RPM) & (BAND.high_rpm > RPM)
    for view, level_db in ((heavy, 6.0 + rise_db), (light, 0.5 * rise_db)):
        power = 10.0 ** (0.1 * level_db[inside]) - 1e-3
        assert view.level_db == pytest.approx(100.0 + 10.0 * np.log10(power.mean()), abs=1e-6)


def test_without_a_log_of_load_climbs_stand_for_pulling() -> None:
    points = points_of(np.stack([np.full(RPM.size, 3.0), np.zeros(RPM.size)]), BINS)
    rising = np.repeat([True, False], RPM.size)
    points = driven(points, np.zeros(rising.size), rising=rising)
    loud, quiet = load_views(BAND, points, FIT, 0.0)
    assert (loud.load, quiet.load) == (LoadClass.CLIMBING, LoadClass.FALLING)
    assert loud.level_db - quiet.level_db == pytest.approx(3.0, abs=0.01)
    assert loud.load_part is None


def test_one_load_is_no_comparison() -> None:
    points = points_of(np.zeros((2, RPM.size)), BINS)
    rng = np.random.default_rng(1)
    steady = 0.5 + 0.03 * rng.normal(size=points.rpm.size)
    gear = np.zeros(points.rpm.size)
    assert load_views(BAND, driven(points, gear, load_part=steady), FIT, 0.0) == ()
    assert load_views(BAND, driven(points, gear), FIT, 0.0) == ()  # climbs only
    apart = np.where(points.rpm > BAND.peak_rpm, 0.2, 0.9)  # never at the same engine speed
    assert load_views(BAND, driven(points, gear, load_part=apart), FIT, 0.0) == ()
