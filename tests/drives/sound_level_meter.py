"""A plain sound level meter: the weightings and the fast time weighting of IEC 61672-1."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import signal

from analysis.basics.arrays import FloatArray

# Pole frequencies and gain of IEC 61672-1, annex E; fast is 125 ms.
_F1, _F2, _F3, _F4 = 20.598997, 107.65265, 737.86223, 12194.217
_A1000_DB = 2.000
_C1000_DB = 0.062
_FAST_S = 0.125


def a_weighting(frequency_hz: FloatArray) -> FloatArray:
    """Pressure gain of the A-weighting, 1 at 1 kHz."""
    f2 = frequency_hz**2
    ends = (f2 + _F1**2) * (f2 + _F4**2)
    middle = np.sqrt((f2 + _F2**2) * (f2 + _F3**2))
    return np.asarray(10.0 ** (_A1000_DB / 20.0) * _F4**2 * f2**2 / (ends * middle))


def c_weighting(frequency_hz: FloatArray) -> FloatArray:
    """Pressure gain of the C-weighting, 1 at 1 kHz."""
    f2 = frequency_hz**2
    return np.asarray(10.0 ** (_C1000_DB / 20.0) * _F4**2 * f2 / ((f2 + _F1**2) * (f2 + _F4**2)))


def z_weighting(frequency_hz: FloatArray) -> FloatArray:
    """None at all."""
    return np.ones(frequency_hz.size)


def fast_a_level_db(
    samples: FloatArray, sample_rate_hz: float, full_scale_db_spl: float, time_s: FloatArray
) -> FloatArray:
    """What the meter shows at each time; a full-scale sine counts as ``full_scale_db_spl``."""
    return fast_level_db(samples, sample_rate_hz, full_scale_db_spl, time_s, a_weighting)


def fast_level_db(
    samples: FloatArray,
    sample_rate_hz: float,
    full_scale_db_spl: float,
    time_s: FloatArray,
    weighting: Callable[[FloatArray], FloatArray],
) -> FloatArray:
    """The same with any weighting."""
    spectrum = np.fft.rfft(samples)
    last_hz = (spectrum.size - 1) * sample_rate_hz / samples.size
    spectrum *= weighting(np.linspace(0.0, last_hz, spectrum.size))
    squared = np.square(np.fft.irfft(spectrum, samples.size))
    pole = float(np.exp(-1.0 / (_FAST_S * sample_rate_hz)))
    smoothed = np.asarray(signal.lfilter([1.0 - pole], [1.0, -pole], squared))
    index = np.clip(np.round(time_s * sample_rate_hz).astype(int), 0, samples.size - 1)
    # A sine of full scale has a mean square of one half.
    return np.asarray(full_scale_db_spl + 10.0 * np.log10(2.0 * smoothed[index] + 1e-20))
