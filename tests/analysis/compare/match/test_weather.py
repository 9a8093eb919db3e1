"""What another day's gas explains of a changed level, and what it does not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.basics.rpm_bins import BIN_RATIO
from analysis.compare.match.weather import weather_between
from analysis.findings import OrderCurve
from tests.analysis.made_findings import drone_ms, grid, make_band, make_curve

RPM = grid(1400.0, 3400.0)
PEAK = 2240.0
BAND = make_band(3.0, PEAK)
# sound is faster by the square root of the absolute temperature's ratio: ideal gas, any textbook
HOTTER = float(np.sqrt(1.0 + 60.0 / 550.0))
COLDER = float(np.sqrt(1.0 - 60.0 / 550.0))


def curve_of(peak_rpm: float, rise_db: FloatArray | None = None) -> OrderCurve:
    """A drone on a source that grows louder with engine speed by ``rise_db`` [shape=(n_bins,)]."""
    trend_db = np.zeros(RPM.size) if rise_db is None else rise_db
    curve = make_curve(3.0, drone_ms(RPM, peak_rpm) * 10.0 ** (0.1 * trend_db), RPM, passes=1)
    return replace(curve, trend_db=trend_db)


def added_db(peak_rpm: float, rise_db: FloatArray) -> float:
    """By how much the same car's band is louder with the first day's resonance."""
    inside = np.abs(np.log(RPM / PEAK)) <= np.log(BAND.high_rpm / PEAK)
    rise = 10.0 ** (0.1 * rise_db)
    power = [np.mean((drone_ms(RPM, peak) * rise)[inside]) for peak in (PEAK, peak_rpm)]
    return float(10.0 * np.log10(power[0] / power[1]))


@pytest.mark.parametrize("day", [HOTTER, COLDER])
@pytest.mark.parametrize("db_per_octave", [-12.0, 0.0, 12.0])
def test_hotter_gas_stretches_the_resonance_but_not_the_source(
    day: float, db_per_octave: float
) -> None:
    rise_db = db_per_octave * np.log2(RPM / PEAK)
    weather = weather_between(curve_of(PEAK, rise_db), curve_of(day * PEAK, rise_db), BAND)
    assert weather.add_db == pytest.approx(added_db(day * PEAK, rise_db), abs=0.4)


@pytest.mark.parametrize("bins", [-14, -9, 9, 14])
def test_a_drone_moved_further_than_weather_moves_it_is_not_the_weathers(bins: int) -> None:
    weather = weather_between(curve_of(PEAK), curve_of(PEAK * BIN_RATIO**bins), BAND)
    assert weather.add_db == 0.0
