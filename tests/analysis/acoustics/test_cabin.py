"""What is heard in the cabin, against a general filter library and the law of a delay."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import freqs

from analysis.acoustics.cabin import Cabin

HZ = np.geomspace(40.0, 250.0, 200)


def cabin(**known: float | complex) -> Cabin:
    told: dict[str, float | complex] = {
        "beside": 0.0j,
        "slope_db": 0.0,
        "lead_s": 0.0,
        "mode_hz": 90.0,
        "mode_gain": 0.0,
        "mode_q": 6.0,
    }
    return Cabin(**{name: np.array([value]) for name, value in (told | known).items()})


def test_a_mode_is_the_bell_of_an_equaliser() -> None:
    """scipy.signal.freqs of the usual peaking equaliser, (s2 + s A/Q + 1) / (s2 + s/(A Q) + 1)."""
    gain, q = 2.5, 8.0
    ours = np.abs(cabin(mode_gain=gain, mode_q=q).lifted(HZ)[0])
    _, bell = freqs([1.0, (1.0 + gain) / q, 1.0], [1.0, 1.0 / q, 1.0], worN=HZ / 90.0)
    np.testing.assert_allclose(ours, np.abs(bell), rtol=1e-9)


def test_a_car_without_a_mode_or_another_way_is_its_outlet() -> None:
    outlet = np.exp(2j * np.pi * HZ * 0.01)[None]
    assert np.abs(cabin().lifted(HZ) - 1.0).max() < 1e-9
    assert np.abs(cabin().other_way(outlet, HZ, 100.0)).max() == 0.0


def test_another_way_is_as_loud_as_told_at_the_drone_and_turns_like_a_delay() -> None:
    """A lead of 4 ms is one whole turn each 250 Hz; 6 dB an octave is a slope of one."""
    outlet = np.full((1, HZ.size), 2.0 + 0.0j)
    other = cabin(beside=0.3 + 0.0j, slope_db=6.0206, lead_s=0.004).other_way(outlet, HZ, 100.0)[0]
    at = int(np.abs(HZ - 100.0).argmin())
    assert other[at] == pytest.approx(0.3)
    turned = np.unwrap(np.angle(other))
    np.testing.assert_allclose((turned - turned[at]) / (2.0 * np.pi), (HZ - HZ[at]) / 250.0)
    np.testing.assert_allclose(np.abs(other), 0.3 * HZ / HZ[at], rtol=1e-5)
