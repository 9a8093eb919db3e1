"""Delay of the telemetry, measured on constructed drives whose delay is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import track_from_rows
from analysis.find.speed.telemetry_delay import measure_delay
from analysis.findings import TelemetryDelay
from tests.analysis.made_drives import RATE_HZ, copy_of, orders_sound, rows, wandering

PROMISED_S = 0.060
RPM = wandering(80.0, 3)
SOUND = orders_sound(RPM, noise=0.05)


def delay_of(samples: FloatArray, telemetry: pd.DataFrame) -> TelemetryDelay | None:
    with copy_of(samples) as copy:
        return measure_delay(copy, track_from_rows(telemetry))


@pytest.mark.parametrize("delay_s", [-60.0, -30.0, -0.4, 0.0, 0.47, 2.0, 14.0, 60.0])
def test_value_and_sign(delay_s: float) -> None:
    """Positive: the engine was at that rpm this long before the row's time."""
    found = delay_of(SOUND, rows(RPM, delay_s=delay_s))
    assert found is not None
    assert found.delay_s == pytest.approx(delay_s, abs=PROMISED_S)
    assert found.ci95_s.low < found.delay_s < found.ci95_s.high
    assert found.ci95_s.high - found.ci95_s.low < 2.0 * PROMISED_S


@settings(max_examples=15)
@given(
    st.integers(0, 10_000),
    st.floats(-60.0, 60.0),
    st.sampled_from([0.05, 0.25, 1.0]),
    st.sampled_from([0.0, 1.0, 25.0]),
)
def test_any_drive_any_offset_any_rate(
    seed: int, delay_s: float, every_s: float, step_rpm: float
) -> None:
    rpm = wandering(80.0, seed)
    telemetry = rows(rpm, delay_s=delay_s, every_s=every_s, step_rpm=step_rpm)
    found = delay_of(orders_sound(rpm, noise=0.1), telemetry)
    assert found is not None
    assert found.delay_s == pytest.approx(delay_s, abs=PROMISED_S)


@pytest.mark.parametrize("drift_ppm", [-500.0, 150.0])
def test_drift_over_a_long_drive(drift_ppm: float) -> None:
    """Twenty minutes: what counts is that both ends are in step, not the drift's number."""
    rpm = wandering(1200.0, 11)
    telemetry = rows(rpm, delay_s=-12.0, drift_ppm=drift_ppm, every_s=0.5)
    found = delay_of(orders_sound(rpm, {1.5: 0.1, 3.0: 0.2, 6.0: 0.1}, noise=0.05), telemetry)
    assert found is not None
    assert found.delay_s == pytest.approx(-12.0, abs=PROMISED_S)
    at_the_ends_s = 1e-6 * (found.drift_ppm - drift_ppm) * 600.0
    assert abs(at_the_ends_s) < PROMISED_S


def test_the_interval_is_honest() -> None:
    """20 drives with a true 95 % interval miss more than four times in 0.3 % of all cases."""
    misses = 0
    for seed in range(20):
        rpm = wandering(60.0, 100 + seed)
        found = delay_of(orders_sound(rpm, noise=0.15), rows(rpm, delay_s=0.7, step_rpm=10.0))
        assert found is not None
        misses += not found.ci95_s.low <= 0.7 <= found.ci95_s.high
    assert misses <= 4


@pytest.mark.parametrize(
    "samples",
    [
        pytest.param(orders_sound(np.full(RPM.size, 2000.0), noise=0.01), id="steady engine"),
        pytest.param(np.random.default_rng(1).normal(size=RPM.size), id="noise"),
        pytest.param(np.sin(2.0 * np.pi * 100.0 * np.arange(RPM.size) / RATE_HZ), id="tone"),
        pytest.param(np.zeros(RPM.size), id="silence"),
    ],
)
def test_undecided_when_the_sound_says_nothing(samples: FloatArray) -> None:
    assert delay_of(samples, rows(RPM)) is None


def test_undecided_at_constant_speed() -> None:
    steady = np.full(RPM.size, 2000.0)
    assert delay_of(orders_sound(steady, noise=0.01), rows(steady)) is None
    flutter = 2000.0 + np.random.default_rng(0).normal(size=RPM.size // 4000).repeat(4000)
    assert delay_of(orders_sound(flutter, noise=0.01), rows(flutter, step_rpm=25.0)) is None


def test_undecided_when_they_never_overlap() -> None:
    assert delay_of(SOUND, rows(RPM, delay_s=500.0)) is None
    assert delay_of(SOUND[:400], rows(RPM)) is None
