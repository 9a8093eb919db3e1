"""Hills as an eye sees them, held beside scipy.signal.peak_prominences on plain arrays."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import find_peaks, peak_prominences

from analysis.basics.arrays import FloatArray
from analysis.find.bands.hills import Hill, hills, seen_level, tops, valleys
from analysis.find.bands.resonance_model import CurveData

LOG_F = np.arange(np.log(50.0), np.log(200.0), 0.01)


def curve(level_db: FloatArray, log_f: FloatArray = LOG_F, noise_db: float = -90.0) -> CurveData:
    noise = np.full(log_f.size, 10.0 ** (0.1 * noise_db))
    return CurveData(
        frequency_hz=np.exp(log_f),
        total_ms=10.0 ** (0.1 * level_db) + noise,
        background_ms=noise,
        sigma_db=np.full(log_f.size, 0.45),
    )


def bump(middle_hz: float, height_db: float, width: float = 0.08) -> FloatArray:
    return np.asarray(height_db * np.exp(-(((LOG_F - np.log(middle_hz)) / width) ** 2)))


def test_the_smaller_drop_counts() -> None:
    """Falls by 12 dB to the left and by 7 dB to the right: 7."""
    level_db = (
        -40.0
        + bump(100.0, 12.0)
        + np.where(np.log(100.0) < LOG_F, 5.0, 0.0) * (1.0 - bump(100.0, 1.0))
    )
    (hill,) = hills(seen_level(curve(level_db)), 3.0)
    assert hill.prominence_db == pytest.approx(7.0, abs=0.6)
    assert hill.top_hz == pytest.approx(100.0, rel=0.02)
    assert hill.level_db == pytest.approx(level_db.max(), abs=0.5)
    assert hill.half_power_hz[0] < hill.top_hz < hill.half_power_hz[1]


@pytest.mark.parametrize("drop_db", [0.0, 2.0])
def test_a_climb_to_the_edge_of_what_was_driven_is_no_hill(drop_db: float) -> None:
    level_db = -60.0 + 20.0 * (LOG_F - LOG_F[0])
    level_db[-10:] -= np.linspace(0.0, drop_db, 10)
    assert hills(seen_level(curve(level_db)), 3.0) == ()


def test_two_tops_without_a_valley_are_one_hill() -> None:
    level_db = -40.0 + np.maximum(bump(95.0, 10.0), bump(105.0, 9.0))
    assert [round(hill.top_hz) for hill in hills(seen_level(curve(level_db)), 3.0)] == [95]


def test_a_hole_in_what_was_driven_has_no_far_side() -> None:
    """Nobody knows what the level does in it."""
    level_db = -40.0 + bump(100.0, 10.0)
    driven = (np.log(104.0) > LOG_F) | (np.log(125.0) < LOG_F)
    assert hills(seen_level(curve(level_db[driven], LOG_F[driven])), 3.0) == ()
    assert len(hills(seen_level(curve(level_db)), 3.0)) == 1


def test_noise_hides_how_deep_a_valley_is() -> None:
    """A hill 20 dB high of which only 8 dB stand out of the noise is not told as 20."""
    level_db = -60.0 + bump(100.0, 20.0)
    (hill,) = hills(seen_level(curve(level_db, noise_db=-48.0)), 3.0)
    assert hill.prominence_db < 13.0


@pytest.mark.parametrize("scatter_db", [0.5, 1.5])
def test_prominence_lies_within_its_error(scatter_db: float) -> None:
    rng = np.random.default_rng(5)
    level_db = -40.0 + bump(100.0, 10.0, 0.15)
    errors = []
    for _ in range(40):
        noisy = level_db + scatter_db * rng.normal(size=LOG_F.size)
        best = max(hills(seen_level(curve(noisy)), 3.0), key=lambda hill: hill.prominence_db)
        errors.append((best.prominence_db - 10.0) / np.hypot(*best.sigma_db))
    # the highest of a scatter is taken, so it reads a little high
    assert np.std(errors) == pytest.approx(1.0, abs=0.5)
    assert np.abs(np.mean(errors)) < 4.0


def test_a_level_near_the_noise_is_no_surer_than_the_noise() -> None:
    """Bins that lie on a smooth curve by chance: their scatter says nothing, the noise does.

    Of 2 dB a bin, a Gaussian of 1.5 bins leaves 2 / sqrt(2 sqrt(pi) 1.5); a level as loud as the
    noise is twice as unsure as the total.
    """
    smooth = curve(-40.0 + bump(100.0, 10.0, 0.15))
    clear = replace(smooth, sigma_db=np.full(LOG_F.size, 2.0))
    left = 2.0 / np.sqrt(2.0 * np.sqrt(np.pi) * 1.5)
    assert seen_level(clear).sigma_db == pytest.approx(left, rel=0.01)
    half = replace(clear, background_ms=0.5 * clear.total_ms)
    assert seen_level(half).sigma_db == pytest.approx(2.0 * left, rel=0.01)


@pytest.mark.parametrize("valley_db", [0.0, -3.0, -20.0])
def test_a_hill_over_a_valley_of_noise_is_as_sure_as_its_top(valley_db: float) -> None:
    """What counts is whether 95 % of all drives would show it, tried out with normal errors.

    Top and valley are means of noise taken off a total; the nearer the valley to nothing, the more
    decibels its error has, and the less it matters. Fieller's limit is exact for normal errors.
    """
    rng = np.random.default_rng(7)
    noise, top_error, valley_error = 1.0, 0.4, 0.15
    top, valley = 6.0 * noise, noise * 10.0 ** (0.1 * valley_db)
    held = []
    for _ in range(4000):
        seen_top = top + top_error * rng.normal()
        seen_valley = max(valley + valley_error * rng.normal(), 0.05)
        hill = Hill(
            top_hz=100.0,
            level_db=0.0,
            foot_hz=(90.0, 110.0),
            half_power_hz=(95.0, 105.0),
            prominence_db=10.0 * np.log10(seen_top / seen_valley),
            sigma_db=(4.343 * top_error / seen_top, 4.343 * valley_error / seen_valley),
        )
        held.append(hill.surely_db <= 10.0 * np.log10(top / valley))
    assert 0.955 < np.mean(held) <= 1.0
    if valley_db == 0.0:
        assert np.mean(held) == pytest.approx(0.975, abs=0.01)


def test_a_top_that_may_be_noise_is_no_hill() -> None:
    hill = Hill(
        top_hz=100.0,
        level_db=0.0,
        foot_hz=(90.0, 110.0),
        half_power_hz=(95.0, 105.0),
        prominence_db=20.0,
        sigma_db=(4.343 * 0.6, 0.1),
    )
    assert hill.surely_db == -np.inf


@pytest.mark.parametrize("seed", range(20))
def test_tops_and_valleys_are_those_of_a_library(seed: int) -> None:
    """Beside scipy.signal, on levels in whole decibels: flat tops, equal tops, equal valleys."""
    level_db = np.random.default_rng(seed).integers(0, 6, size=60).astype(np.float64)
    assert tops(level_db).tolist() == find_peaks(level_db)[0].tolist()
    _, low, high = peak_prominences(level_db, tops(level_db))
    assert [valleys(level_db, top) for top in tops(level_db)] == list(zip(low, high, strict=True))
