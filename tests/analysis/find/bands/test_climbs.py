"""Levels that climb on to an end of what was driven, on plain arrays."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.interval import Interval
from analysis.find.bands.climbs import climbs
from analysis.find.bands.hills import SeenLevel
from analysis.findings import DroneBand, LockedTo

LOG_F = np.arange(np.log(60.0), np.log(200.0), 0.01)
ORDER = 4.0


def seen(level_db: np.ndarray, sigma_db: float = 0.3) -> SeenLevel:
    return SeenLevel(log_f=LOG_F, level_db=level_db, sigma_db=np.full(LOG_F.size, sigma_db))


def resonance(peak_hz: float) -> SeenLevel:
    """A level with one resonance in it: 20 dB high, 8 % wide."""
    f = np.exp(LOG_F)
    path = 1.0 + 9.0 / (1.0 + 1j * (f / peak_hz - peak_hz / f) / 0.08)
    return seen(20.0 * np.log10(np.abs(path)) - 50.0)


def test_a_resonance_beyond_the_fast_end_is_climbed_to() -> None:
    (climb,) = climbs(ORDER, resonance(205.0), ())
    end_hz = np.exp(LOG_F[-1])
    assert climb.rpm == pytest.approx(end_hz * 60.0 / ORDER)
    assert climb.is_fast
    assert climb.from_rpm < climb.rpm
    # beside the resonance the level is the path's alone, -50 dB and a little of the flank
    assert climb.level_db - climb.climb_db == pytest.approx(-47.0, abs=3.0)


def test_a_resonance_beyond_the_slow_end_is_climbed_to() -> None:
    (climb,) = climbs(ORDER, resonance(58.0), ())
    assert climb.rpm == pytest.approx(60.0 * 60.0 / ORDER)
    assert not climb.is_fast


@pytest.mark.parametrize("peak_hz", [100.0, 185.0])
def test_a_top_that_was_driven_through_is_no_climb(peak_hz: float) -> None:
    assert climbs(ORDER, resonance(peak_hz), ()) == ()


def test_an_engine_that_is_louder_the_faster_it_turns_is_no_climb() -> None:
    """24 dB over a range of 1 to 4, the steepest that the roads of the tests have."""
    assert climbs(ORDER, seen(24.0 / np.log(4.0) * (LOG_F - LOG_F[0])), ()) == ()


def test_a_climb_that_may_be_chance_is_not_told() -> None:
    assert climbs(ORDER, replace(resonance(205.0), sigma_db=np.full(LOG_F.size, 2.0)), ()) == ()


def test_what_a_band_tells_of_is_not_told_twice() -> None:
    any_hz = Interval(low=0.0, high=1.0)
    band = DroneBand(
        engine_order=ORDER,
        peak_rpm=2900.0,
        low_rpm=2800.0,
        high_rpm=3100.0,
        rise_db=12.0,
        level_db=-30.0,
        locked_to=LockedTo.UNKNOWN,
        peak_hz_ci95=any_hz,
        low_hz_ci95=any_hz,
        high_hz_ci95=any_hz,
    )
    assert climbs(ORDER, resonance(205.0), (band,)) == ()
    assert len(climbs(ORDER, resonance(205.0), (replace(band, high_rpm=2950.0),))) == 1
