"""The level of an engine order over frequency: a slow trend times resonances, in noise.

The mean square is ``10**(trend / 10) * |1 + sum R_k|**2 + background``: a direct path with modes
beside it, ``R = g exp(j phi) / (1 + j (f / f0 - f0 / f) / w)``. The angle phi lets a peak lean
to one side, as it does where path and mode add in and out of phase. The trend is a sum of
Legendre polynomials of log frequency over the range that was driven.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre

from analysis.basics.arrays import FloatArray

TREND_TERMS = 2  # a definition: a level and a slope
MODE_TERMS = 4  # a definition: frequency, width, gain and angle


class Resonance(NamedTuple):
    """``f0`` in Hz, half-power width over ``f0``, complex gain's size and angle."""

    frequency_hz: float
    relative_width: float
    gain: float
    angle_rad: float


AnyResonance = tuple[float, float, float | FloatArray, float | FloatArray]


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
    """Fitted parameters of one order, and their covariance.

    ``parameters``: trend coefficients (dB), then for each resonance ln f0, ln width, ln gain
    and angle.
    """

    parameters: FloatArray
    covariance: FloatArray
    reference_hz: tuple[float, float]

    @property
    def resonances(self) -> tuple[Resonance, ...]:
        """Fitted resonances, in no special order."""
        return resonances(self.parameters)

    def trend_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Slow trend, same shape as ``frequency_hz``; beyond the fitted range it stays level.

        A polynomial means nothing outside the range it was fitted over, and soon runs away there.
        """
        inside_hz = np.clip(frequency_hz, *self.reference_hz)
        return trend_basis(inside_hz, self.reference_hz) @ self.parameters[:TREND_TERMS]

    def rise_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Level above the trend, same shape as ``frequency_hz``."""
        return rise_db(self.parameters, frequency_hz)


def rise_db(parameters: FloatArray, frequency_hz: FloatArray) -> FloatArray:
    """``20 lg |1 + sum R_k|`` of a parameter vector as in :class:`ResonanceFit`."""
    return _rise_and_slopes(resonances(parameters), frequency_hz)[0]


def trend_basis(frequency_hz: FloatArray, reference_hz: tuple[float, float]) -> FloatArray:
    """Legendre polynomials of log frequency, [shape=(n_points, TREND_TERMS)]."""
    low, high = np.log(reference_hz[0]), np.log(reference_hz[1])
    place = (2.0 * np.log(frequency_hz) - low - high) / max(high - low, 1e-6)
    return legendre.legvander(place, TREND_TERMS - 1)


def level_and_slopes(
    trend_db: FloatArray, modes: Iterable[AnyResonance], data: CurveData
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Give the expected ``10 lg(total)``, the part of it above noise, and the slopes of the rise.

    ``modes`` may have a gain and an angle for each point. The slopes [shape=(n, 4 k)] are those of
    the rise alone, by each parameter of each mode; of the level they are ``share`` times as much.
    """
    rise, slopes = _rise_and_slopes(modes, data.frequency_hz)
    net = 10.0 ** (0.1 * (trend_db + rise))
    total = net + data.background_ms
    return 10.0 * np.log10(total), net / total, slopes


def resonances(parameters: FloatArray) -> tuple[Resonance, ...]:
    """Take the resonances out of a parameter vector as in :class:`ResonanceFit`."""
    modes = parameters[TREND_TERMS:].reshape(-1, MODE_TERMS)
    return tuple(
        Resonance(float(np.exp(f)), float(np.exp(w)), float(np.exp(g)), float(a))
        for f, w, g, a in modes
    )


def _rise_and_slopes(
    modes: Iterable[AnyResonance], frequency_hz: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Rise in dB [shape=(n,)] and its slope by each resonance parameter [shape=(n, 4 k)]."""
    path = np.ones(frequency_hz.shape, dtype=np.complex128)
    slopes = []
    for mode_hz, relative_width, gain, angle_rad in modes:
        up, down = frequency_hz / mode_hz, mode_hz / frequency_hz
        turn = 1j / relative_width
        below = 1.0 + turn * (up - down)
        term = gain * np.exp(1j * angle_rad) / below
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
