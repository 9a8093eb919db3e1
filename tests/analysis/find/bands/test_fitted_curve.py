"""A fit is shown where it was fitted, and never runs away beyond."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.branches import Target
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.fitted_curve import order_curve
from analysis.find.bands.hills import SeenLevel
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.drone import find_drone
from analysis.size.drone_curve import drone_curve
from analysis.size.from_findings import levels_from_curve
from analysis.size.request import OrderLevels, SizingRequest
from logger.session import read_session
from tests.analysis.find.made_points import made_points

BASELINE = Path(__file__).parents[4] / "recorded_sessions" / "baseline"
LOW_HZ, HIGH_HZ = 60.0, 180.0


def fit_with_trend(*coefficients: float) -> ResonanceFit:
    return ResonanceFit(
        trend=np.array(coefficients),
        modes=np.empty(0),
        covariance=np.empty((0, 0)),
        reference_hz=(LOW_HZ, HIGH_HZ),
    )


@given(
    st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=6),
    st.floats(1.0, 5.0),
)
def test_beyond_the_fitted_range_the_trend_stays_level(
    coefficients: list[float], beyond: float
) -> None:
    fit = fit_with_trend(*coefficients)
    ends_db = fit.trend_db(np.array([LOW_HZ, HIGH_HZ]))
    assert fit.trend_db(np.array([LOW_HZ / beyond, HIGH_HZ * beyond])) == pytest.approx(ends_db)


def test_outside_the_fitted_range_no_curve_is_given() -> None:
    rpm = np.array([1000.0, 1170.0, 1200.0, 2000.0, 3600.0, 3700.0, 4000.0])
    one_pass, ones = np.zeros(rpm.size, dtype=np.int64), np.ones(rpm.size)
    # 60 to 180 Hz are 1,200 to 3,600 rpm of order 3
    points = made_points(3.0, one_pass, np.arange(rpm.size), ones, 0.0 * ones, rpm=rpm)
    log_f = np.linspace(np.log(LOW_HZ), np.log(HIGH_HZ), 50)
    level = SeenLevel(log_f=log_f, level_db=np.full(50, -30.0), sigma_db=np.ones(50))
    curve = order_curve(FittedOrder(points=points, level=level))
    known = [False, True, True, True, True, True, False]
    assert np.isfinite(curve.trend_db).tolist() == known
    assert np.isfinite(curve.fitted_db).tolist() == known
    without = order_curve(FittedOrder(points=points))
    assert not np.isfinite(without.fitted_db).any()


def test_level_before_a_cure_is_near_what_was_measured() -> None:
    """Down to the lowest engine speeds of the demonstration drive, where sweeps begin and end."""
    findings = find_drone(read_session(BASELINE).drive())
    for curve in findings.curves:
        levels = levels_from_curve(curve)
        if levels is None:
            continue
        net_ms = curve.total_ms - curve.background_ms
        clear = net_ms > curve.background_ms
        measured_db = [
            10.0 * np.log10(np.average(net_ms[near], weights=curve.seconds[near]))
            for rpm in levels.rpm
            if (near := clear & (np.abs(curve.rpm / rpm - 1.0) < 0.02)).any()
        ]
        assert levels.level_db.max() < max(measured_db) + 3.0, curve.engine_order
        assert levels.level_db.min() > min(measured_db) - 6.0, curve.engine_order


def test_what_of_the_driving_range_was_not_swept_is_said() -> None:
    target = Target(engine_order=3.0, peak_hz=112.0, low_hz=104.0, high_hz=121.0)
    rpm = np.linspace(1500.0, 3000.0, 60)
    levels = OrderLevels(rpm=rpm, level_db=-(((rpm - 2240.0) / 400.0) ** 2))
    request = SizingRequest(target=target, levels=levels, driving_range_rpm=(900.0, 3010.0))
    curve = drone_curve(request)
    assert curve.frequency_hz[0] == pytest.approx(75.0)
    assert any("from 1,500 to 3,000 rpm" in said for said in curve.assumptions)
    inside = replace(request, driving_range_rpm=(1480.0, 3010.0))
    assert drone_curve(inside).assumptions == ()
