"""The model of a resonance against closed forms and finite differences."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray
from analysis.find.bands.resonance_model import (
    MODE_TERMS,
    CurveData,
    ResonanceFit,
    level_and_slopes,
    rise_db,
    trend_basis,
)

FREQUENCY_HZ = np.geomspace(40.0, 240.0, 150)


def terms(*modes: tuple[float, float, float, float]) -> FloatArray:
    """Each mode by frequency in Hz, relative width, gain, angle."""
    return np.ravel([[np.log(f), np.log(w), np.log(g), a] for f, w, g, a in modes])


@given(st.floats(60.0, 200.0), st.floats(0.03, 0.4), st.floats(0.5, 9.0))
def test_peak_and_half_power_points_of_one_mode(peak_hz: float, width: float, gain: float) -> None:
    """|1 + g / (1 + jx)|^2 is (1 + g)^2 at x = 0 and half of it at
    x = (1 + g) / sqrt((1 + g)^2 - 2), worked out by hand; f / f0 - f0 / f = x w.
    """
    one = terms((peak_hz, width, gain, 0.0))
    top_db = 20.0 * np.log10(1.0 + gain)
    assert rise_db(one, np.array([peak_hz]))[0] == pytest.approx(top_db, abs=1e-6)
    x = (1.0 + gain) / np.sqrt((1.0 + gain) ** 2 - 2.0)
    half = 0.5 * x * width
    edges_hz = peak_hz * (np.sqrt(1.0 + half**2) + np.array([-half, half]))
    assert rise_db(one, edges_hz) == pytest.approx(top_db - 10.0 * np.log10(2.0), abs=1e-6)


def test_far_from_every_mode_nothing_is_added() -> None:
    two = terms((60.0, 0.03, 1.0, 0.3), (65.0, 0.05, 2.0, -0.3))
    assert np.abs(rise_db(two, np.array([2.0, 5000.0]))).max() < 0.1
    assert rise_db(np.empty(0), FREQUENCY_HZ) == pytest.approx(0.0, abs=1e-9)


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.integers(0, 3), st.integers(1, 6))
def test_slopes_are_those_of_finite_differences(seed: int, modes: int, trend: int) -> None:
    rng = np.random.default_rng(seed)
    drawn = [
        (rng.uniform(50, 200), rng.uniform(0.05, 0.4), rng.uniform(0.2, 5), rng.uniform(-1, 1))
        for _ in range(modes)
    ]
    here = np.concatenate([rng.normal(size=trend), terms(*drawn)])
    data = CurveData(
        frequency_hz=FREQUENCY_HZ,
        total_ms=np.ones(FREQUENCY_HZ.size),
        background_ms=np.full(FREQUENCY_HZ.size, rng.uniform(0.0, 2.0)),
        sigma_db=np.ones(FREQUENCY_HZ.size),
    )
    basis = trend_basis(data.frequency_hz, data.reference_hz, trend)

    def level_and_others(terms: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        return level_and_slopes(basis @ terms[:trend], terms[trend:], data)

    _, share, of_rise = level_and_others(here)
    slopes = share[:, np.newaxis] * np.concatenate([basis, of_rise], axis=1)
    assert slopes.shape == (FREQUENCY_HZ.size, trend + MODE_TERMS * modes)
    for index in range(here.size):
        step = np.zeros(here.size)
        step[index] = 1e-6
        up, down = (level_and_others(here + sign * step)[0] for sign in (1.0, -1.0))
        assert slopes[:, index] == pytest.approx((up - down) / 2e-6, abs=1e-3)


def test_a_trend_is_level_and_slope_in_log_frequency() -> None:
    fit = ResonanceFit(
        trend=np.array([-30.0, 6.0]),
        modes=np.empty(0),
        covariance=np.empty((0, 0)),
        reference_hz=(50.0, 200.0),
    )
    at_hz = np.array([50.0, 100.0, 200.0])
    assert fit.trend_db(at_hz) == pytest.approx([-36.0, -30.0, -24.0])
    assert fit.rise_db(at_hz) == pytest.approx(0.0, abs=1e-9)
