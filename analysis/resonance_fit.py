"""One order's level over frequency as a slow trend times resonances, in noise.

The model of the mean square is ``10**(trend / 10) * |1 + sum R_k|**2 + background``: a direct
path with modes beside it, ``R = g exp(j phi) / (1 + j Q (f / f0 - f0 / f))``. The angle phi lets
a peak lean to one side, as it does where path and mode add in and out of phase. Fitted by
weighted least squares in decibels, with weak priors that keep trend and angle from standing in
for a resonance.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre
from scipy.optimize import least_squares

from analysis.drive import FloatArray

MOST_RESONANCES = 4

_TREND_SIZE_DB = (60.0, 12.0, 4.0, 2.0)  # prior scale of each Legendre term after the start
_ANGLE_RAD = 0.5  # prior scale
_GAIN_LOG_SCALE = 1.5  # prior scale of ln g about 1
_LEAST_WIDTH, _MOST_WIDTH = 0.02, 0.5
_SCAN_WIDTHS = (0.03, 0.06, 0.1, 0.16, 0.25)
_WORTH_CHI_SQUARE = 25.0
_HUBER = 2.5


class Resonance(NamedTuple):
    """``f0`` in Hz, half-power width over ``f0``, complex gain's size and angle."""

    frequency_hz: float
    relative_width: float
    gain: float
    angle_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveData:
    """What is fitted; all arrays [shape=(n_points,)].

    ``sigma_db`` is the expected scatter of ``10 lg(total)``.
    """

    frequency_hz: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray
    sigma_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ResonanceFit:
    """The fitted parameters and their covariance.

    ``parameters``: trend coefficients (dB), then for each resonance ln f0, ln width, ln gain
    and angle. ``covariance`` is scaled by the residuals' scatter and by their dependence on
    their neighbours. ``chi_square`` is in units of ``sigma_db``.
    """

    parameters: FloatArray
    covariance: FloatArray
    reference_hz: tuple[float, float]
    chi_square: float

    @property
    def resonances(self) -> tuple[Resonance, ...]:
        """Fitted resonances, in no special order."""
        return _resonances(self.parameters)

    def trend_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Slow trend, same shape as ``frequency_hz``."""
        return _trend_db(self.parameters, frequency_hz, self.reference_hz)

    def rise_db(self, frequency_hz: FloatArray) -> FloatArray:
        """Level above the trend, same shape as ``frequency_hz``."""
        return rise_db(self.parameters, frequency_hz)


def rise_db(parameters: FloatArray, frequency_hz: FloatArray) -> FloatArray:
    """``20 lg |1 + sum R_k|`` of a parameter vector as in :class:`ResonanceFit`."""
    path = np.ones(frequency_hz.shape, dtype=np.complex128)
    for mode in _resonances(parameters):
        detuning = frequency_hz / mode.frequency_hz - mode.frequency_hz / frequency_hz
        gain = mode.gain * np.exp(1j * mode.angle_rad)
        path += gain / (1.0 + 1j * detuning / mode.relative_width)
    return 20.0 * np.log10(np.abs(path) + 1e-6)


def fit_resonances(data: CurveData) -> ResonanceFit:
    """Add resonances one by one for as long as each explains clearly more than scatter would."""
    reference_hz = (float(data.frequency_hz.min()), float(data.frequency_hz.max()))
    net = np.maximum(data.total_ms - data.background_ms, 0.1 * data.total_ms)
    start = np.zeros(len(_TREND_SIZE_DB))
    start[0] = float(np.median(10.0 * np.log10(net)))
    best = _solve(data, start, reference_hz)
    for _ in range(MOST_RESONANCES):
        guess = _next_guess(data, best)
        if guess is None:
            break
        trial = _solve(data, np.concatenate([best.parameters, guess]), reference_hz)
        gained = best.chi_square - trial.chi_square
        scatter = max(1.0, trial.chi_square / max(1, data.sigma_db.size - trial.parameters.size))
        if gained < _WORTH_CHI_SQUARE * scatter:
            break
        best = trial
    return best


def _resonances(parameters: FloatArray) -> tuple[Resonance, ...]:
    tail = parameters[len(_TREND_SIZE_DB) :].reshape(-1, 4)
    return tuple(
        Resonance(float(np.exp(f)), float(np.exp(w)), float(np.exp(g)), float(a))
        for f, w, g, a in tail
    )


def _trend_db(
    parameters: FloatArray, frequency_hz: FloatArray, reference_hz: tuple[float, float]
) -> FloatArray:
    low, high = np.log(reference_hz[0]), np.log(reference_hz[1])
    place = (2.0 * np.log(frequency_hz) - low - high) / max(high - low, 1e-6)
    return legendre.legval(place, parameters[: len(_TREND_SIZE_DB)])


def _model_db(
    parameters: FloatArray, data: CurveData, reference_hz: tuple[float, float]
) -> FloatArray:
    level_db = _trend_db(parameters, data.frequency_hz, reference_hz) + rise_db(
        parameters, data.frequency_hz
    )
    return 10.0 * np.log10(10.0 ** (0.1 * level_db) + data.background_ms)


def _solve(
    data: CurveData, start: FloatArray, reference_hz: tuple[float, float]
) -> ResonanceFit:
    trend_size = np.array(_TREND_SIZE_DB)
    measured_db = 10.0 * np.log10(data.total_ms)
    count = (start.size - trend_size.size) // 4

    def residuals(parameters: FloatArray) -> FloatArray:
        misfit = (_model_db(parameters, data, reference_hz) - measured_db) / data.sigma_db
        modes = parameters[trend_size.size :].reshape(-1, 4)
        return np.concatenate(
            [
                misfit,
                (parameters[: trend_size.size] - np.array([start[0], 0, 0, 0])) / trend_size,
                (modes[:, 2] - 0.5) / _GAIN_LOG_SCALE,
                modes[:, 3] / _ANGLE_RAD,
            ]
        )

    margin = np.log(1.02)
    mode_low = [np.log(reference_hz[0]) - margin, np.log(_LEAST_WIDTH), -3.0, -1.5]
    mode_high = [np.log(reference_hz[1]) + margin, np.log(_MOST_WIDTH), 3.0, 1.5]
    low = np.concatenate([np.full(trend_size.size, -300.0), *([mode_low] * count)])
    high = np.concatenate([np.full(trend_size.size, 300.0), *([mode_high] * count)])
    inside = np.clip(start, low + 1e-6, high - 1e-6)
    solved = least_squares(
        residuals, inside, bounds=(low, high), loss="huber", f_scale=_HUBER, x_scale="jac"
    )
    misfit = solved.fun[: data.sigma_db.size]
    robust = np.where(np.abs(misfit) < _HUBER, misfit**2, 2 * _HUBER * np.abs(misfit) - _HUBER**2)
    chi_square = float(robust.sum())
    freedom = max(1, data.sigma_db.size - start.size)
    scale = max(1.0, chi_square / freedom) * _dependence(misfit)
    information = solved.jac.T @ solved.jac / scale
    return ResonanceFit(
        parameters=solved.x,
        covariance=np.linalg.pinv(information, hermitian=True),
        reference_hz=reference_hz,
        chi_square=chi_square,
    )


def _dependence(misfit: FloatArray) -> float:
    """Factor by which neighbouring bins that err together widen every interval."""
    centred = misfit - misfit.mean()
    power = float(np.dot(centred, centred))
    if power == 0.0:
        return 1.0
    lag = float(np.clip(np.dot(centred[1:], centred[:-1]) / power, 0.0, 0.7))
    return (1.0 + lag) / (1.0 - lag)


def _next_guess(data: CurveData, fit: ResonanceFit) -> FloatArray | None:
    """Start values of the bump that explains most of what is left, or None."""
    log_f = np.log(data.frequency_hz)
    left_db = 10.0 * np.log10(data.total_ms) - _model_db(
        fit.parameters, data, fit.reference_hz
    )
    span = max(float(log_f.max() - log_f.min()), 1e-6)
    place = (2.0 * (log_f - log_f.min()) / span) - 1.0
    # the trend may give way to a bump, so judge both with the trend projected out
    basis, _ = np.linalg.qr(legendre.legvander(place, 2) / data.sigma_db[:, np.newaxis])
    target = left_db / data.sigma_db
    target = target - basis @ (basis.T @ target)
    centres = np.arange(log_f.min(), log_f.max(), 0.01)
    best: tuple[float, float, float, float] | None = None
    for width in _SCAN_WIDTHS:
        detuning = 2.0 * np.sinh(log_f[np.newaxis, :] - centres[:, np.newaxis]) / width
        bumps = 10.0 * np.log10(1.0 + 9.0 / (1.0 + detuning**2)) / data.sigma_db
        bumps -= (bumps @ basis) @ basis.T
        along = bumps @ target
        size = np.maximum((bumps**2).sum(axis=1), 1e-9)
        gained = np.where(along > 0, along**2 / size, 0.0)
        top = int(gained.argmax())
        if best is None or gained[top] > best[0]:
            best = (float(gained[top]), float(centres[top]), width, float(along[top] / size[top]))
    if best is None or best[0] <= 0.0:
        return None
    rise = 10.0 * min(max(best[3], 0.2), 2.5)
    return np.array([best[1], np.log(best[2]), np.log(10.0 ** (rise / 20.0) - 1.0), 0.0])
