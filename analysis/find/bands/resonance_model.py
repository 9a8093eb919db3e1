"""The level of an engine order over frequency: a slow trend times resonances, in noise.

The mean square is ``10**(trend / 10) * |1 + sum R_k|**2 + background``: a direct path with modes
beside it, ``R = g exp(j phi) / (1 + j (f / f0 - f0 / f) / w)``. The angle phi lets a peak lean
to one side, as it does where path and mode add in and out of phase. The trend is a sum of
Legendre polynomials of log frequency over the range that was driven.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from analysis.basics.arrays import FloatArray

MODE_TERMS = 4  # a definition: frequency, width, gain and angle


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveData:
    """One order's curve, to be fitted; all arrays [shape=(n_points,)].

    ``sigma_db`` is the expected scatter of ``10 lg(total)``.
    """

    frequency_hz: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray
    sigma_db: FloatArray

    @property
    def reference_hz(self) -> tuple[float, float]:
        """The range over which the trend is described."""
        return float(self.frequency_hz.min()), float(self.frequency_hz.max())


@dataclass(frozen=True, slots=True, kw_only=True)
class ResonanceFit:
    """Fitted trend and resonances of one order, and the covariance of the latter.

    ``trend``: coefficients in dB [shape=(n_terms,)]. ``modes``: for each resonance ln f0, ln width,
    ln gain and angle [shape=(MODE_TERMS * n,)]; the first is the one that the fit is asked for.
    """

    trend: FloatArray
    modes: FloatArray
    covariance: FloatArray
    reference_hz: tuple[float, float]

    @property
    def first(self) -> FloatArray:
        """Terms of the resonance that the fit is asked for [shape=(MODE_TERMS,)]."""
        return self.modes[:MODE_TERMS]

    def trend_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Slow trend, same shape as ``frequency_hz``; beyond the fitted range it stays level.

        A polynomial means nothing outside the range it was fitted over, and soon runs away there.
        """
        inside_hz = np.clip(frequency_hz, *self.reference_hz)
        return trend_basis(inside_hz, self.reference_hz, self.trend.size) @ self.trend

    def rise_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Level above the trend, same shape as ``frequency_hz``."""
        return rise_db(self.modes, frequency_hz)


def rise_db(modes: FloatArray, frequency_hz: FloatArray) -> FloatArray:
    """``20 lg |1 + sum R_k|`` of modes as in :class:`ResonanceFit`."""
    return _rise_and_slopes(modes, frequency_hz)[0]


def trend_basis(
    frequency_hz: FloatArray, reference_hz: tuple[float, float], terms: int
) -> FloatArray:
    """Legendre polynomials of log frequency, [shape=(n_points, terms)]."""
    low, high = np.log(reference_hz[0]), np.log(reference_hz[1])
    place = (2.0 * np.log(frequency_hz) - low - high) / max(high - low, 1e-6)
    return legendre.legvander(place, terms - 1)


def level_and_slopes(
    trend_db: FloatArray, modes: FloatArray, data: CurveData
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the expected ``10 lg(total)``, the part of it above noise, and the slopes of the rise.

    ``modes`` as in :class:`ResonanceFit`. The slopes [shape=(n, 4 k)] are those of
    the rise alone, by each parameter of each mode; of the level they are ``share`` times as much.
    """
    rise, slopes = _rise_and_slopes(modes, data.frequency_hz)
    net = 10.0 ** (0.1 * (trend_db + rise))
    total = net + data.background_ms
    return 10.0 * np.log10(total), net / total, slopes


def _rise_and_slopes(modes: FloatArray, frequency_hz: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rise in dB [shape=(n,)] and its slope by each resonance parameter [shape=(n, 4 k)]."""
    path = np.ones(frequency_hz.shape, dtype=np.complex128)
    slopes = []
    for log_hz, log_width, log_gain, angle_rad in modes.reshape(-1, MODE_TERMS):
        up = frequency_hz / np.exp(log_hz)
        down, turn = 1.0 / up, 1j / np.exp(log_width)
        below = 1.0 + turn * (up - down)
        term = np.exp(log_gain + 1j * angle_rad) / below
        path += term
        slopes += [
            term * turn * (up + down) / below,
            term * turn * (up - down) / below,
            term,
            1j * term,
        ]
    # a resonance may cancel the path wholly; its logarithm must still exist
    size = np.abs(path) ** 2 + 1e-12
    if not slopes:
        return 10.0 * np.log10(size), np.empty((frequency_hz.size, 0))
    turned = np.real(np.conj(path) * np.stack(slopes)) / size
    return 10.0 * np.log10(size), (20.0 / np.log(10.0) * turned).T
