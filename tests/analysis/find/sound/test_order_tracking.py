"""Order tracking against sums of cosines along a closed-form sweep.

Method: Fyfe & Munck, Mech. Syst. Signal Process. 11 (1997) 187. The mean square of a cosine of
amplitude a is a**2 / 2.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray
from analysis.find.sound.order_tracking import ORDERS, OrderFrames, order_spectra, track_orders
from tests.analysis.made_drives import copy_of, orders_sound, there_and_back, true_track

PROMISED_DB = 0.1


def frames_of(samples: FloatArray, rpm: FloatArray) -> OrderFrames:
    with copy_of(samples) as copy:
        return track_orders(order_spectra(copy, true_track(rpm)))


def column(order: float) -> int:
    return int(np.flatnonzero(order == ORDERS)[0])


@settings(max_examples=15)
@given(
    st.floats(800.0, 1500.0),
    st.floats(2000.0, 5500.0),
    st.floats(20.0, 60.0),
    st.dictionaries(
        st.sampled_from(list(ORDERS[ORDERS <= 9.0])), st.floats(0.06, 1.0), min_size=1, max_size=6
    ),
)
def test_each_order_has_its_own_mean_square(
    low_rpm: float, high_rpm: float, duration_s: float, amplitude: dict[float, float]
) -> None:
    """Within 0.1 dB in every frame, beside stronger orders, up and down."""
    rpm = there_and_back(duration_s, low_rpm, high_rpm)
    frames = frames_of(orders_sound(rpm, amplitude), rpm)
    assert frames.time_s.size > 100
    for order, size in amplitude.items():
        error_db = 10.0 * np.log10(frames.total_ms[:, column(order)] / (0.5 * size**2))
        away_from_the_turn = np.abs(frames.time_s - 0.5 * duration_s) > 1.0
        assert np.abs(error_db[away_from_the_turn]).max() < PROMISED_DB


def test_an_order_that_is_not_there_reads_nothing() -> None:
    rpm = there_and_back(40.0, 1000.0, 4000.0)
    frames = frames_of(orders_sound(rpm, {3.0: 1.0}), rpm)
    others = np.delete(frames.total_ms, column(3.0), axis=1)
    assert 10.0 * np.log10(others.max() / 0.5) < -40.0


def test_energy_balance() -> None:
    """The lines of a frame add up to the mean square of all orders in it."""
    rpm = there_and_back(40.0, 1000.0, 4000.0)
    amplitude = {1.0: 0.3, 2.5: 0.2, 4.0: 0.5, 7.5: 0.1}
    with copy_of(orders_sound(rpm, amplitude)) as copy:
        lines = np.concatenate([part.mean_square for part in order_spectra(copy, true_track(rpm))])
    total = lines.sum(axis=1)
    assert total == pytest.approx(0.5 * sum(a**2 for a in amplitude.values()), rel=0.01)


def test_noise_of_known_density() -> None:
    """White noise of variance v has v / (rate / 2) per hertz; five lines are 5/16 order wide."""
    rate_hz = 8000.0  # above the working rate, so that what the ear of this stage cannot use is off
    rpm = np.full(round(200.0 * rate_hz), 2400.0)
    with copy_of(orders_sound(rpm, {}, noise=1.0), rate_hz) as copy:
        frames = track_orders(order_spectra(copy, true_track(rpm, rate_hz)))
    expected = 1.0 / (0.5 * rate_hz) * 5.0 / 16.0 * 2400.0 / 60.0
    low = ORDERS <= 9.0
    assert frames.total_ms[:, low].mean() == pytest.approx(expected, rel=0.03)
    assert frames.background_ms[:, low].mean() == pytest.approx(expected, rel=0.03)


def test_background_is_blind_to_the_orders() -> None:
    rpm = there_and_back(40.0, 1000.0, 4000.0)
    quiet = frames_of(orders_sound(rpm, {}, noise=0.01), rpm)
    loud = frames_of(orders_sound(rpm, {2.0: 0.3, 3.0: 0.3}, noise=0.01), rpm)
    change_db = 10.0 * np.log10(loud.background_ms.mean(axis=0) / quiet.background_ms.mean(axis=0))
    assert np.abs(change_db).max() < 0.5


def test_frames_only_where_speed_is_known_and_calm() -> None:
    rpm = there_and_back(40.0, 1000.0, 4000.0)
    track = true_track(rpm)
    track.rpm[(track.time_s > 10.0) & (track.time_s < 15.0)] = np.nan
    with copy_of(orders_sound(rpm)) as copy:
        frames = track_orders(order_spectra(copy, track))
    assert not ((frames.time_s > 9.8) & (frames.time_s < 15.2)).any()
    assert frames.time_s.min() > 0.3
    assert frames.time_s.max() < 39.7
    hasty = there_and_back(4.0, 1000.0, 8000.0)
    assert frames_of(orders_sound(hasty), hasty).time_s.size < 20
