"""Bands fitted to curves in closed form: |1 + g / (1 + jx)|^2 over a slow trend, in noise.

The half-power points come from the closed form x = (1 + g) / sqrt((1 + g)^2 - 2).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d
from scipy.signal import peak_prominences

from analysis.basics.arrays import FloatArray
from analysis.basics.rows import rows
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.find.bands.drone_bands import LEAST_RISE_DB, FittedOrder, fit_drones
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand
from tests.analysis.find.made_points import made_points

BINS = np.arange(125, 265)  # 1040 to 4150 rpm
RPM = bin_centre_rpm(BINS)
PEAK_WITHIN, WIDTH_WITHIN = 0.01, 0.25  # what find promises


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    peak_hz: float
    width: float  # of the mode; the half-power width of the whole is x times as wide
    gain: float

    def ratio(self, frequency_hz: FloatArray) -> FloatArray:
        x = (frequency_hz / self.peak_hz - self.peak_hz / frequency_hz) / self.width
        return np.asarray(self.gain / (1.0 + 1j * x))

    @property
    def edges_hz(self) -> tuple[float, float]:
        half = 0.5 * self.width * (1 + self.gain) / np.sqrt((1 + self.gain) ** 2 - 2.0)
        middle = np.sqrt(1.0 + half**2)
        return self.peak_hz * (middle - half), self.peak_hz * (middle + half)


def points(
    order: float,
    modes: list[Mode],
    *,
    seed: int = 0,
    trend_db: float = 6.0,
    noise_db: float = -70.0,
    scatter_db: float = 0.2,
) -> OrderPoints:
    """Two passes over the same bins; the trend rises by ``trend_db`` from end to end."""
    rng = np.random.default_rng([seed, round(2 * order)])
    rpm = np.tile(RPM, 2)
    frequency_hz = order * rpm / 60.0
    path = 1.0 + sum((mode.ratio(frequency_hz) for mode in modes), np.zeros(rpm.size))
    level_db = -40.0 + trend_db * np.log(rpm / RPM[0]) / np.log(RPM[-1] / RPM[0])
    noise_ms = 10.0 ** (0.1 * noise_db)
    tone_ms = (
        10.0 ** (0.1 * (level_db + scatter_db * rng.normal(size=rpm.size))) * np.abs(path) ** 2
    )
    made = made_points(
        order,
        np.repeat(np.array([0, 1]), RPM.size),
        np.tile(BINS, 2),
        tone_ms + noise_ms * rng.gamma(3.0, 1.0 / 3.0, size=rpm.size),
        noise_ms * rng.gamma(3.0, 1.0 / 3.0, size=rpm.size),
        rising=np.repeat([True, False], RPM.size),
    )
    return replace(made, window_s=16.0 * 60.0 / rpm)


def only_band(fitted: FittedOrder) -> DroneBand:
    (band,) = fitted.bands
    return band


def assert_is(band: DroneBand, mode: Mode) -> None:
    low_hz, high_hz = mode.edges_hz
    assert band.peak_hz == pytest.approx(mode.peak_hz, rel=PEAK_WITHIN)
    assert band.high_hz - band.low_hz == pytest.approx(high_hz - low_hz, rel=WIDTH_WITHIN)
    # its skirts reach beyond what was driven, and the level under it climbs or falls
    assert LEAST_RISE_DB <= band.rise_db < 20.0 * np.log10(1.0 + mode.gain) + 0.5
    for name in ("peak_hz", "low_hz", "high_hz"):
        interval = getattr(band, f"{name}_ci95")
        assert interval.low < getattr(band, name) < interval.high
        assert interval.high - interval.low < 0.75 * (high_hz - low_hz)


@settings(max_examples=25)
@given(st.floats(90.0, 140.0), st.floats(0.06, 0.15), st.floats(2.5, 7.0), st.floats(-6.0, 6.0))
def test_one_order_one_mode(peak_hz: float, width: float, gain: float, trend_db: float) -> None:
    mode = Mode(peak_hz=peak_hz, width=width, gain=gain)
    (fitted,) = fit_drones([points(3.0, [mode], trend_db=trend_db)], 0.0)
    assert_is(only_band(fitted), mode)


def test_level_is_that_of_the_order_at_the_peak() -> None:
    mode = Mode(peak_hz=110.0, width=0.1, gain=3.0)
    (fitted,) = fit_drones([points(3.0, [mode], trend_db=0.0)], 100.0)
    assert only_band(fitted).level_db == pytest.approx(
        -40.0 + 20.0 * np.log10(4.0) + 100.0, abs=0.5
    )


def test_orders_share_a_mode_and_each_has_its_own_band() -> None:
    mode = Mode(peak_hz=110.0, width=0.12, gain=3.0)
    fitted = fit_drones([points(order, [mode]) for order in (2.0, 3.0, 4.0)], 0.0)
    for each, order in zip(fitted, (2.0, 3.0, 4.0), strict=True):
        band = only_band(each)
        assert band.engine_order == order
        assert_is(band, mode)


def test_every_order_that_is_heard_is_told() -> None:
    """An uneven engine has many; none is left out for being the thirteenth."""
    mode = Mode(peak_hz=110.0, width=0.12, gain=3.0)
    orders = 2.0 + 0.2 * np.arange(14)
    fitted = fit_drones([points(order, [mode], trend_db=0.0) for order in orders], 0.0)
    assert [len(each.bands) for each in fitted] == [1] * 14


@pytest.mark.parametrize(("below_db", "told"), [(12.0, 1), (18.0, 0)])
def test_a_hill_far_below_another_order_at_its_speed_is_no_drone(
    below_db: float, told: int
) -> None:
    """Its top lies at 2,200 rpm, where the other order has no hill but is louder."""
    soft = points(3.0, [Mode(peak_hz=110.0, width=0.1, gain=3.0)], trend_db=0.0)
    loud = points(2.0, [], trend_db=0.0)
    louder = 10.0 ** (0.1 * (12.0 + below_db))  # the hill's own 12 dB, and more
    fitted, _ = fit_drones([soft, replace(loud, total_ms=louder * loud.total_ms)], 0.0)
    assert len(fitted.bands) == told


def test_two_modes() -> None:
    low, high = Mode(peak_hz=80.0, width=0.1, gain=3.0), Mode(peak_hz=150.0, width=0.1, gain=4.0)
    (fitted,) = fit_drones([points(3.0, [low, high])], 0.0)
    found = sorted(fitted.bands, key=lambda band: band.peak_hz)
    assert [band.peak_hz for band in found] == pytest.approx([80.0, 150.0], rel=PEAK_WITHIN)


@settings(max_examples=15)
@given(st.integers(0, 1000), st.floats(-15.0, 15.0), st.floats(-70.0, -38.0))
def test_no_band_on_a_trend(seed: int, trend_db: float, noise_db: float) -> None:
    made = [
        points(order, [], seed=seed, trend_db=trend_db, noise_db=noise_db) for order in (2.0, 4.0)
    ]
    assert all(fitted.bands == () for fitted in fit_drones(made, 0.0))


def test_a_bump_that_is_no_drone() -> None:
    small = Mode(peak_hz=110.0, width=0.1, gain=0.4)  # 3 dB
    assert all(fitted.bands == () for fitted in fit_drones([points(3.0, [small])], 0.0))


@pytest.mark.parametrize("peak_hz", [40.0, 51.0, 209.0, 260.0])
def test_a_peak_not_driven_through_is_not_claimed(peak_hz: float) -> None:
    """Order 3 was driven from 52 to 207 Hz."""
    beyond = Mode(peak_hz=peak_hz, width=0.15, gain=4.0)
    (fitted,) = fit_drones([points(3.0, [beyond])], 0.0)
    for band in fitted.bands:
        assert 52.0 < band.peak_hz < 207.0
        assert abs(band.peak_hz / peak_hz - 1.0) > 0.05 or band.low_hz > 0.96 * 52.0


def test_an_order_lost_in_noise_has_no_level() -> None:
    loud = points(3.0, [Mode(peak_hz=110.0, width=0.1, gain=3.0)])
    lost = points(1.0, [], noise_db=-25.0)
    strong, weak = fit_drones([loud, lost], 0.0)
    assert strong.level is not None
    assert weak.level is None
    assert weak.bands == ()


def test_too_few_bins() -> None:
    made = points(3.0, [Mode(peak_hz=110.0, width=0.1, gain=3.0)])
    (fitted,) = fit_drones([rows(made, made.bin_index < 135)], 0.0)
    assert fitted.level is None
    assert fitted.bands == ()
    assert fit_drones([], 0.0) == ()


def test_a_louder_pass_moves_nothing() -> None:
    """One pass 6 dB louder than the other, as with another foot, and over half of the range."""
    mode = Mode(peak_hz=110.0, width=0.1, gain=3.0)
    made = points(3.0, [mode])
    louder = np.where(made.pass_index == 1, 10.0**0.6, 1.0)
    half = (made.pass_index == 0) | (made.rpm > 2200.0)
    second = replace(
        made, total_ms=made.total_ms * louder, background_ms=made.background_ms * louder
    )
    (fitted,) = fit_drones([rows(second, half)], 0.0)
    near = [band for band in fitted.bands if abs(band.peak_hz / 110.0 - 1.0) < 0.1]
    assert len(near) == 1
    assert near[0].peak_hz == pytest.approx(110.0, rel=0.02)


def level_points(level_db: FloatArray, *, order: float = 3.0, seed: int = 0) -> OrderPoints:
    """Two passes of a level [shape=(n_bins,)] drawn by hand, with a little scatter."""
    made = points(order, [], seed=seed, trend_db=0.0, scatter_db=0.3)
    both = 10.0 ** (0.1 * (np.tile(level_db, 2)))
    return replace(made, total_ms=made.total_ms * both, background_ms=made.background_ms * both)


PLACE = np.log(RPM / RPM[0]) / np.log(RPM[-1] / RPM[0])


@pytest.mark.parametrize("climb_db", [9.0, 15.0, 25.0])
def test_a_level_that_climbs_on_is_no_hill(climb_db: float) -> None:
    """Steep in the middle, flat at both ends: measured from a trend it would rise by many dB."""
    level_db = climb_db / (1.0 + np.exp(-(PLACE - 0.55) / 0.06))
    for fitted in fit_drones([level_points(level_db)], 0.0):
        assert fitted.bands == ()


def test_a_hill_of_one_decibel_on_a_bend_is_no_drone() -> None:
    level_db = 12.0 * np.minimum(PLACE, 0.5) + 1.5 * np.exp(-(((PLACE - 0.5) / 0.05) ** 2))
    (fitted,) = fit_drones([level_points(level_db)], 0.0)
    assert fitted.bands == ()


@pytest.mark.parametrize("height_db", [8.0, 12.0, 16.0])
def test_a_wide_hill_in_a_wavy_level_is_found_with_the_height_one_sees(height_db: float) -> None:
    """The engine's own level goes up and down beside it by 2 dB."""
    waves_db = 2.0 * np.sin(2.0 * np.pi * 3.3 * PLACE)
    level_db = waves_db + height_db * np.exp(-(((PLACE - 0.5) / 0.1) ** 2))
    prominence_db = peak_prominences(level_db, [int(level_db.argmax())])[0][0]
    (fitted,) = fit_drones([level_points(level_db)], 0.0)
    band = max(fitted.bands, key=lambda band: band.rise_db)
    assert band.rise_db == pytest.approx(prominence_db, abs=1.0)
    assert band.peak_rpm == pytest.approx(RPM[int(level_db.argmax())], rel=0.03)


def test_four_noisy_drives_say_the_same() -> None:
    waves_db = 2.0 * np.sin(2.0 * np.pi * 3.3 * PLACE)
    level_db = waves_db + 8.0 * np.exp(-(((PLACE - 0.5) / 0.08) ** 2))
    told = [fit_drones([level_points(level_db, seed=seed)], 0.0)[0].bands for seed in range(4)]
    assert [len(bands) for bands in told] == [1, 1, 1, 1]
    rises_db = [bands[0].rise_db for bands in told]
    assert max(rises_db) - min(rises_db) < 1.0


@pytest.mark.parametrize("own_db", [0.3, 2.0])
def test_intervals_hold_the_resonance_beside_the_engines_own_level(own_db: float) -> None:
    """A mode of known frequency over a level that wanders, 20 cars; 95 % of 20 is 19."""
    mode = Mode(peak_hz=104.0, width=0.1, gain=3.0)
    frequency_hz = 3.0 * RPM / 60.0
    rise_db = 20.0 * np.log10(np.abs(1.0 + mode.ratio(frequency_hz)))
    held = 0
    for seed in range(20):
        rng = np.random.default_rng([8, seed])
        own = gaussian_filter1d(rng.normal(size=RPM.size), 5.0, mode="wrap")
        (fitted,) = fit_drones([level_points(own_db / own.std() * own + rise_db)], 0.0)
        band = min(fitted.bands, key=lambda band: abs(band.peak_hz - mode.peak_hz))
        held += band.peak_hz_ci95.low <= mode.peak_hz <= band.peak_hz_ci95.high
    assert held >= 17


def test_a_hill_cut_off_at_the_end_is_told_where_another_order_shows_it_whole() -> None:
    """Order 6 was driven from 104 Hz: of a hill at 112 Hz it shows half of the lower flank."""
    mode = Mode(peak_hz=112.0, width=0.07, gain=4.0)
    whole, cut = fit_drones([points(3.0, [mode]), points(6.0, [mode], trend_db=0.0)], 0.0)
    assert_is(only_band(whole), mode)
    assert_is(only_band(cut), mode)
    assert only_band(cut).rise_db <= only_band(whole).rise_db


def test_a_level_that_hardly_turns_at_the_end_climbs_on_whatever_another_order_shows() -> None:
    """At 109 Hz it falls by 0.1 dB to the end: an engine's own level does as much."""
    mode = Mode(peak_hz=109.0, width=0.07, gain=4.0)
    whole, cut = fit_drones([points(3.0, [mode]), points(6.0, [mode], trend_db=0.0)], 0.0)
    assert_is(only_band(whole), mode)
    assert cut.bands == ()


def test_a_hill_cut_off_at_the_end_is_not_told_without_a_witness() -> None:
    """Neither alone, nor beside a hill elsewhere, nor beside one that is cut off as well."""
    mode = Mode(peak_hz=109.0, width=0.07, gain=4.0)
    cut = points(6.0, [mode], trend_db=0.0)
    elsewhere = points(3.0, [Mode(peak_hz=150.0, width=0.07, gain=4.0)])
    both_cut = points(5.8, [mode], trend_db=0.0)
    assert all(fitted.bands == () for fitted in fit_drones([cut], 0.0))
    assert fit_drones([elsewhere, cut], 0.0)[1].bands == ()
    assert all(fitted.bands == () for fitted in fit_drones([both_cut, cut], 0.0))


@pytest.mark.parametrize("fall_db", [-12.0, -24.0])
def test_a_level_that_falls_from_its_end_is_no_hill_even_beside_one(fall_db: float) -> None:
    mode = Mode(peak_hz=109.0, width=0.07, gain=4.0)
    falls = points(6.0, [], trend_db=fall_db)
    assert fit_drones([points(3.0, [mode]), falls], 0.0)[1].bands == ()


def test_a_hill_that_noise_makes_unsure_takes_another_order_that_shows_it() -> None:
    mode = Mode(peak_hz=110.0, width=0.12, gain=1.2)
    unsure = points(3.0, [mode], trend_db=0.0, noise_db=-36.0)
    witness = points(4.0, [mode], trend_db=0.0)
    elsewhere = points(4.0, [Mode(peak_hz=160.0, width=0.12, gain=1.2)], trend_db=0.0)
    assert [len(each.bands) for each in fit_drones([unsure], 0.0)] == [0]
    assert [len(each.bands) for each in fit_drones([unsure, witness], 0.0)] == [1, 1]
    assert [len(each.bands) for each in fit_drones([unsure, elsewhere], 0.0)] == [0, 1]


def test_a_low_hill_vouches_for_none_that_is_cut_off() -> None:
    low, high = (Mode(peak_hz=109.0, width=0.07, gain=gain) for gain in (1.0, 4.0))
    witness, cut = fit_drones(
        [points(3.0, [low], trend_db=0.0), points(6.0, [high], trend_db=0.0)], 0.0
    )
    assert only_band(witness).rise_db < 6.0
    assert cut.bands == ()


def test_the_peak_told_is_as_loud_as_the_top() -> None:
    """However the level wanders over the mode that is fitted to it; nobody hears 0.6 dB."""
    mode = Mode(peak_hz=104.0, width=0.2, gain=3.0)
    rise_db = 20.0 * np.log10(np.abs(1.0 + mode.ratio(3.0 * RPM / 60.0)))
    for seed in range(10):
        rng = np.random.default_rng([9, seed])
        own = gaussian_filter1d(rng.normal(size=RPM.size), 4.0, mode="wrap")
        level_db = rise_db + 1.5 * own / own.std()
        (fitted,) = fit_drones([level_points(level_db)], 0.0)
        band = min(fitted.bands, key=lambda band: abs(band.peak_hz - mode.peak_hz))
        on_it = (band.low_rpm < RPM) & (band.high_rpm > RPM)
        told_db = np.interp(band.peak_rpm, RPM, level_db)
        # smoothing takes a little off a narrow top
        assert told_db > level_db[on_it].max() - 0.6


def test_a_hill_whose_resonance_runs_on_into_the_next_is_told_as_it_is_seen() -> None:
    """Two wide modes fit all orders, and their sum does not fall by half between their tops."""
    modes = [Mode(peak_hz=66.0, width=0.3, gain=4.0), Mode(peak_hz=105.0, width=0.27, gain=4.0)]
    orders = [points(order, modes, trend_db=8.0) for order in (2.0, 3.0, 3.5)]
    for fitted in fit_drones(orders, 0.0):
        band = min(fitted.bands, key=lambda band: abs(band.peak_hz - modes[1].peak_hz))
        assert band.peak_hz == pytest.approx(modes[1].peak_hz, rel=0.05)
        assert band.rise_db > 6.0
        assert (band.high_hz - band.low_hz) / band.peak_hz < 0.4
