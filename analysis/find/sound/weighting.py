"""The A, B and C frequency weightings of a sound level.

Source of all formulas: IEC 61672-1:2013, section 5 and Annex E (the pole frequencies are
worked out as in that annex, not copied). It has no B any more: that is of IEC 60651 (1979), and
near the ear's own at the 70 phon of a drone; from memory.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import ArrayLike

from analysis.basics.arrays import FloatArray

FULL_SCALE_SINE_DB = float(10.0 * np.log10(2.0))  # its mean square is one half; it is 0 dB (AES17)

# Annex E: the C weighting is 3 dB down at F_L and F_H, the A weighting adds two poles about F_A.
_REFERENCE_HZ = 1000.0
_F_L_HZ = 10.0**1.5
_F_H_HZ = 10.0**3.9
_F_A_HZ = 10.0**2.45


def _outer_poles_hz() -> tuple[float, float]:
    """f1 and f4, equations (E.2) to (E.4): squared, they solve x^2 + b x + c = 0."""
    half = np.sqrt(0.5)
    b = (
        _REFERENCE_HZ**2
        + (_F_L_HZ * _F_H_HZ / _REFERENCE_HZ) ** 2
        - half * (_F_L_HZ**2 + _F_H_HZ**2)
    ) / (1.0 - half)
    c = (_F_L_HZ * _F_H_HZ) ** 2
    root = np.sqrt(b**2 - 4.0 * c)
    return float(np.sqrt((-b - root) / 2.0)), float(np.sqrt((-b + root) / 2.0))


F1_HZ, F4_HZ = _outer_poles_hz()
# Annex E too: the two poles that only the A weighting has.
F2_HZ = (3.0 - np.sqrt(5.0)) / 2.0 * _F_A_HZ
F3_HZ = (3.0 + np.sqrt(5.0)) / 2.0 * _F_A_HZ
_F_B_HZ = 10.0**2.2  # IEC 60651: the one pole that the B weighting adds; from memory


def c_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Give the C weighting, 0 dB at 1 kHz; -inf at 0 Hz. Any shape."""
    return _c_raw_db(frequency_hz) - _c_raw_db(_REFERENCE_HZ)


def b_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Give the B weighting, 0 dB at 1 kHz; -inf at 0 Hz. Any shape."""
    return _b_raw_db(frequency_hz) - _b_raw_db(_REFERENCE_HZ)


def a_weighting_db(frequency_hz: ArrayLike) -> FloatArray:
    """Give the A weighting, 0 dB at 1 kHz; -inf at 0 Hz. Any shape."""
    return _a_raw_db(frequency_hz) - _a_raw_db(_REFERENCE_HZ)


def _c_raw_db(frequency_hz: ArrayLike) -> FloatArray:
    f2 = np.square(np.asarray(frequency_hz, dtype=np.float64))
    with np.errstate(divide="ignore"):
        raw: FloatArray = 20.0 * np.log10(F4_HZ**2 * f2 / ((f2 + F1_HZ**2) * (f2 + F4_HZ**2)))
    return raw


def _b_raw_db(frequency_hz: ArrayLike) -> FloatArray:
    hz = np.asarray(frequency_hz, dtype=np.float64)
    with np.errstate(divide="ignore"):
        inner: FloatArray = 20.0 * np.log10(hz / np.hypot(hz, _F_B_HZ))
    return _c_raw_db(hz) + inner


def _a_raw_db(frequency_hz: ArrayLike) -> FloatArray:
    f2 = np.square(np.asarray(frequency_hz, dtype=np.float64))
    with np.errstate(divide="ignore"):
        inner: FloatArray = 20.0 * np.log10(f2 / np.sqrt((f2 + F2_HZ**2) * (f2 + F3_HZ**2)))
    return _c_raw_db(frequency_hz) + inner
