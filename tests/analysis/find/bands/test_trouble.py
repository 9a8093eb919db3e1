"""The order in which drones trouble people: level, time spent, and what drowns them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.find.bands.trouble import cruise_db, trouble_db
from analysis.find.sound.weighting import b_weighting_db
from analysis.findings import OverallCurve
from tests.analysis.made_findings import make_band

RPM: FloatArray = 1000.0 * 1.01 ** np.arange(140, dtype=np.float64)


def overall(seconds: FloatArray, level_db: float = 70.0) -> OverallCurve:
    level = np.full(RPM.size, level_db)
    return OverallCurve(
        rpm=RPM, level_z_db=level, level_c_db=level, level_a_db=level, seconds=seconds
    )


SWEPT = overall(np.ones(RPM.size))


def cruising(rpm: float, factor: float) -> OverallCurve:
    return overall(np.where(np.abs(RPM / rpm - 1.0) < 0.05, factor, 1.0))


def test_a_steady_sweep_tells_by_level_alone() -> None:
    for rpm in (1500.0, 2400.0, 3500.0):
        band = make_band(3.0, rpm, level_db=80.0)
        heard_db = 80.0 + float(b_weighting_db(band.peak_hz))
        assert trouble_db(band, SWEPT) == pytest.approx(heard_db)


def test_a_low_rumble_comes_after_a_drone_a_little_softer() -> None:
    rumble, drone = make_band(0.5, 3200.0, level_db=82.0), make_band(4.0, 2000.0, level_db=78.0)
    assert trouble_db(rumble, SWEPT) < trouble_db(drone, SWEPT)


def test_the_drone_of_the_cruise_comes_before_one_a_little_louder() -> None:
    cruise, rare = make_band(3.0, 2000.0, level_db=80.0), make_band(1.5, 3500.0, level_db=85.0)
    drive = cruising(2000.0, 30.0)
    assert trouble_db(cruise, drive) > trouble_db(rare, drive)
    assert trouble_db(cruise, SWEPT) < trouble_db(rare, SWEPT)


def test_time_counts_by_energy_and_not_without_end() -> None:
    """Twice as long is 3.01 dB (equal energy, ISO 1996-1)."""
    drives = [
        overall(np.where(np.abs(RPM / 2000.0 - 1.0) < 0.05, part, 1.0)) for part in (0.2, 0.4)
    ]
    assert cruise_db(make_band(3.0, 2000.0), drives[0]) == 0.0
    shares = [cruise_db(make_band(3.0, 2000.0), cruising(2000.0, by)) for by in (4.0, 1e6)]
    assert 0.0 < shares[0] < shares[1] <= 10.0


def test_what_the_rest_drowns_troubles_less() -> None:
    band = make_band(3.0, 2000.0, level_db=80.0)
    loud = replace(SWEPT, level_z_db=np.full(RPM.size, 85.0))
    assert trouble_db(band, loud) == pytest.approx(trouble_db(band, SWEPT) - 5.0)
