"""Two microphones on one pipe, worked out by hand: a resonance, a second way beside it, a delay."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.acoustics.tail_ratio import TailRatio
from analysis.basics.arrays import ComplexArray

HZ = np.geomspace(60.0, 200.0, 100)
DRONE_HZ = 110.0
# a resonance on a plain transfer, as of any mechanical system with one degree of freedom
OUTLET = 1.0 + 3.0 / (1.0 + 9j * (HZ / DRONE_HZ - DRONE_HZ / HZ))
PLAIN = np.ones((1, HZ.size), dtype=np.complex128)
NO_LATER = np.zeros(1)


def ratio_of(beside: complex, *, late_s: float = 0.0, gain: float = 1.0) -> TailRatio:
    """Cabin over tail where ``beside`` comes another way, over the outlet at the drone."""
    at = int(np.abs(HZ - DRONE_HZ).argmin())
    way = 1.0 + beside * np.abs(OUTLET[at]) / OUTLET
    ratio = gain * way * np.exp(-2j * np.pi * HZ * late_s)
    return TailRatio(frequency_hz=HZ, ratio=ratio, sigma=np.full(HZ.size, 0.02))


def other_way() -> ComplexArray:
    at = int(np.abs(HZ - DRONE_HZ).argmin())
    return np.asarray(np.abs(OUTLET[at]) / OUTLET)[None]


@pytest.mark.parametrize("gain", [0.01, 40.0])
@pytest.mark.parametrize("late_s", [-0.03, 0.0, 0.02])
def test_gain_and_delay_of_the_tails_microphone_say_nothing(gain: float, late_s: float) -> None:
    tail = ratio_of(0.0, late_s=late_s, gain=gain)
    assert np.abs(tail.residual(PLAIN, NO_LATER, tail.ratio)).max() < 1e-3


def test_no_slow_factor_stands_for_what_comes_another_way() -> None:
    """A fifth of the energy: half of the outlet's amplitude."""
    tail = ratio_of(0.5)
    alone = np.sum(tail.residual(PLAIN, NO_LATER, tail.ratio) ** 2)
    told = np.sum(tail.residual(1.0 + 0.5 * other_way(), NO_LATER, tail.ratio) ** 2)
    assert alone > 30.0
    assert told < 0.2 * alone


@pytest.mark.parametrize("beside", [0.2, 0.5, 0.4j, -0.3 + 0.2j])
def test_how_much_comes_another_way_is_found(beside: complex) -> None:
    tail = ratio_of(beside)
    later = (0.0 - tail.late_s) / 0.006 * np.ones(1)  # as if the true delay had been guessed
    found = tail.beside(PLAIN, other_way(), later, DRONE_HZ)[0]
    assert abs(found - beside) < 0.02


def test_noisy_copies_stray_as_far_as_the_ratio_may_be_off() -> None:
    tail = ratio_of(0.5, gain=7.0)
    copies = tail.noisy(400, np.random.default_rng(1))
    strayed = (copies - tail.ratio) / np.abs(tail.ratio)
    np.testing.assert_allclose(strayed.real.std(axis=0).mean(), np.hypot(0.02, 0.2), rtol=0.02)
    np.testing.assert_allclose(strayed.imag.std(axis=0).mean(), np.hypot(0.02, 0.2), rtol=0.02)
