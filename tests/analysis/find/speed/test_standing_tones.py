"""Standing tones are found without engine speed, and an engine's orders are none."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from analysis.basics.arrays import FloatArray
from analysis.drive import Sound
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.standing_tones import standing_tones

RATE_HZ = 8000.0
TIME_S = np.arange(40 * 8000) / RATE_HZ
NOISE = 0.02 * np.random.default_rng(3).standard_normal(TIME_S.size)
# order 2 from 1,200 to 3,600 rpm, and its harmonics; scipy's own sweep, in no part of ours
SWEPT_HZ = (40.0, 120.0)


def sweep() -> FloatArray:
    low_hz, high_hz = SWEPT_HZ
    return np.asarray(
        0.1
        * sum(
            signal.chirp(TIME_S, number * low_hz, TIME_S[-1], number * high_hz)
            for number in (0.5, 1.0, 1.5, 2.0, 3.0)
        )
    )


def tones_of(samples: FloatArray) -> tuple[float, ...]:
    sound = Sound.from_array(samples.astype(np.float32), RATE_HZ)
    with WorkingCopy(sound, lambda part: None) as copy:
        return tuple(tone.frequency_hz for tone in standing_tones(copy))


def test_a_hum_under_an_engine_is_found() -> None:
    hum = 0.03 * np.sin(2.0 * np.pi * 200.0 * TIME_S)
    assert tones_of(NOISE + sweep() + hum) == pytest.approx((200.0,), abs=2.5)


def test_orders_that_sweep_on_are_no_tones() -> None:
    assert tones_of(NOISE + sweep()) == ()


def test_a_tone_of_half_the_drive_is_none() -> None:
    """An engine held at one speed sounds so."""
    held = 0.1 * np.sin(2.0 * np.pi * 80.0 * TIME_S) * (TIME_S > 20.0)
    assert tones_of(NOISE + sweep() + held) == ()
