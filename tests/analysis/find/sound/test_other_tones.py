"""Voices and music between the orders are told from noise and from a steady hum."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.find.sound.order_tracking import ORDERS, OrderFrames
from analysis.find.sound.other_tones import OtherTones, other_tones
from analysis.find.sound.wide_bands import BandLevels

COUNT = 2000
RPM = 2200.0 + 900.0 * np.sin(2.0 * np.pi * np.arange(COUNT) / 400.0)


def heard(tones_hz: np.ndarray, hiss_db: np.ndarray | None = None) -> OtherTones:
    """Noise of two lines a gap, and tones [shape=(n_frames, n_tones)] 20 dB over it."""
    rng = np.random.default_rng(8)
    noise = rng.chisquare(4, size=(COUNT, ORDERS.size))
    gap_hz = RPM[:, np.newaxis] / 60.0 * ORDERS
    for column in range(tones_hz.shape[1]):
        near = np.abs(gap_hz / tones_hz[:, column, np.newaxis] - 1.0) < 0.02
        noise[near] += 400.0
    frames = OrderFrames(
        time_s=0.1 * np.arange(COUNT, dtype=np.float64),
        rpm=RPM,
        total_ms=5.0 * noise,
        background_ms=noise,
    )
    return other_tones(frames, wide(hiss_db if hiss_db is not None else np.full(COUNT, -60.0)))


def wide(hiss_db: np.ndarray) -> BandLevels:
    silent = np.full(hiss_db.size, 1e-6, dtype=np.float32)
    return BandLevels(
        time_s=0.1 * np.arange(hiss_db.size, dtype=np.float64),
        wind_ms=silent,
        engine_ms=silent,
        voice_ms=silent,
        hiss_db=hiss_db.astype(np.float32),
    )


def test_knocks_swell_for_a_moment_and_a_foot_on_the_throttle_for_longer() -> None:
    """One frame in fifty 12 dB up, or a whole second in five."""
    frame = np.arange(COUNT)
    silence = np.empty((COUNT, 0))
    knocks = heard(silence, np.where(frame % 50 == 7, -48.0, -60.0))
    assert abs(knocks.burst_share - 0.02) < 1e-6
    assert knocks.are_heard
    foot = heard(silence, np.where(frame % 50 < 10, -48.0, -60.0))
    assert not foot.are_heard


def test_noise_holds_no_tone() -> None:
    found = heard(np.empty((COUNT, 0)))
    assert found.share < 0.002
    assert found.is_even
    assert not found.are_heard


def test_a_hum_is_steady_and_a_tune_is_not() -> None:
    hum = heard(np.tile([120.0, 240.0, 360.0, 480.0], (COUNT, 1)))
    notes = np.random.default_rng(2).uniform(100.0, 500.0, size=(COUNT // 10, 4))
    tune = heard(np.repeat(notes, 10, axis=0))
    for found in (hum, tune):
        assert found.share > 0.03
    assert hum.steady_share > 0.7
    assert not hum.are_heard
    assert tune.are_many
