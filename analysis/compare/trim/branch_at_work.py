"""Where built branches really work: their tuned frequencies, from the drives before and after.

What a branch lets through at a frequency is the same for every engine order, so all orders of both
drives are laid over frequency, power after against power before. Onto that is laid the
transmission of closed side branches in an exhaust that echoes:

    after / before = g |prod 1 / (1 + zeta Y)|^2,    1 / Y = r - j cot(pi f / 2 f0)

``f0`` is where the branch works, ``r`` the resistance of branch and mouth, ``g`` what gain and day
changed, and ``zeta`` the impedance of the exhaust at the branch over the branch's own. Without
echoes ``zeta`` is half the ratio of areas; with them it is free: a complex constant, a slope over
frequency, and a complex share of each resonance that the baseline shows, because the exhaust
sounds where its impedance peaks. So only the place of the notch tells where the branch works,
and what the echoes do to its flanks does not pull it away.

Source: Munjal, Acoustics of Ducts and Mufflers (1987), ch. 2, for the shunt in a duct.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.basics.rows import rows
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.noise import variance_of_bins
from analysis.compare.match.side_by_side import shared_curves, side_by_side
from analysis.findings import Findings, OrderCurve

# judgement: all of these, from _STARTS where a fit begins to what strays far from typical and then
# costs. How near the trims come is measured as a whole by tests/benchmarks/trim_accuracy. 20 % more
# of _NEAR moves a cut by 0.3 mm, of any other by 0.04 mm at most.
_FARTHEST = 0.3  # natural logarithm of f0 over where the branch was meant to work
_STARTS = (-0.2, -0.15, -0.1, -0.06, -0.03, 0.0, 0.03, 0.06, 0.1, 0.15, 0.2)
_NEAR = 1.3  # frequencies within this ratio of where a branch was meant to work are used
_NEAR_MODE = 1.6
_SCATTER = 0.12  # of each point's power, beyond noise: load and throttle; assumption, no source
_BINS_PER_LOOK = 2.0  # neighbouring rpm bins share a window
_ENOUGH_POINTS = 15
_LEAST_SPREAD = 0.2  # of the mean squared misfit: a lucky fit is no proof
_MOST_STEPS = 80
# Of each branch: ln f0, ln r, zeta real and imaginary, their slopes; then two for each resonance.
# judgement: typical values and how far they may stray before it costs, as above.
_TYPICAL = (0.0, np.log(0.03), 0.3, 0.0, 0.0, 0.0)
_STRAY = (np.inf, 1.0, 0.4, 0.4, 0.8, 0.8)  # from typical, before it costs; f0 may stray freely
_TYPICAL_OF_MODE, _STRAY_OF_MODE = (0.3, 0.0), (1.0, 1.0)
_LOW = (-_FARTHEST, np.log(0.003), -1.0, -2.0, -4.0, -4.0)
_HIGH = (_FARTHEST, np.log(0.5), 3.0, 2.0, 4.0, 4.0)
_LARGEST_MODE = 4.0
_APART = 0.04  # natural logarithm: two branches hold nearly the same gas, so both stray alike
_GAIN_STRAY = 0.7  # natural logarithm of g: 3 dB
_GAIN_LARGEST = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingBranch:
    """Where one branch works, with a 95 % interval."""

    tuned_hz: float
    ci95_hz: Interval


@dataclass(frozen=True, slots=True)
class _Points:
    """One order in one rpm bin of both drives, background removed; arrays [shape=(n_points,)]."""

    frequency_hz: FloatArray
    before_ms: FloatArray
    after_ms: FloatArray  # may be negative
    before_variance: FloatArray
    after_variance: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mode:
    """A resonance of the exhaust as the baseline shows it."""

    peak_hz: float
    q: float

    def response(self, frequency_hz: FloatArray) -> NDArray[np.complex128]:
        detuned = frequency_hz / self.peak_hz - self.peak_hz / frequency_hz
        return np.asarray(1.0 / (1.0 + 1j * self.q * detuned))


def working_branches(
    baseline: Findings, postfix: Findings, meant_hz: Sequence[float]
) -> tuple[WorkingBranch, ...]:
    """Find where branches work that were meant to work at ``meant_hz``, in that order.

    Parameters
    ----------
    baseline, postfix : Findings
        On one scale (see :mod:`analysis.compare.match.shared_terms`), both with sound.
    meant_hz : sequence of float
        One or two frequencies, which must differ for two branches to be told apart. Two branches
        are taken to be off alike, because their gas is.

    Returns
    -------
    tuple of WorkingBranch
        Empty when too few engine speeds near ``meant_hz`` are in both drives.
    """
    points = _points_near(baseline, postfix, meant_hz)
    if points.frequency_hz.size < _ENOUGH_POINTS:
        return ()
    model = _BranchesModel(meant_hz, _modes(baseline, meant_hz))
    # from many starts, because a notch far from its place pulls no fit towards it
    # of two branches every pair of starts is tried, so fewer will do
    starts = _STARTS if len(meant_hz) == 1 else _STARTS[1::2]
    begins = itertools.product(starts, repeat=len(meant_hz))
    fits = [_fit(points, model, begin) for begin in begins]
    _, values = min(fits, key=lambda fit: fit[0])
    deviation = _deviation_of_tunings(points, model, values)
    tuned = values[model.tuning_at]
    return tuple(
        WorkingBranch(
            tuned_hz=float(hz * np.exp(at)),
            ci95_hz=Interval(
                low=float(hz * np.exp(at - SURE * sigma)),
                high=float(hz * np.exp(at + SURE * sigma)),
            ),
        )
        for hz, at, sigma in zip(meant_hz, tuned, deviation, strict=True)
    )


class _BranchesModel:
    """Power that the branches let through, and what is usual for its parameters.

    The first parameter is the logarithm of the gain; those of each branch follow.
    """

    def __init__(self, meant_hz: Sequence[float], modes: Sequence[_Mode]) -> None:
        self._meant_hz = meant_hz
        self._modes = modes
        count, of_modes = len(meant_hz), len(modes)
        self._per_branch = len(_TYPICAL) + 2 * of_modes
        self.tuning_at = [1 + branch * self._per_branch for branch in range(count)]
        self.typical = np.array([0.0, *count * (*_TYPICAL, *of_modes * _TYPICAL_OF_MODE)])
        self.stray = np.array([_GAIN_STRAY, *count * (*_STRAY, *of_modes * _STRAY_OF_MODE)])
        widest = 2 * of_modes * (_LARGEST_MODE,)
        self.low = np.array([-_GAIN_LARGEST, *count * (*_LOW, *(-each for each in widest))])
        self.high = np.array([_GAIN_LARGEST, *count * (*_HIGH, *widest)])
        self.tie = np.zeros((count - 1, self.typical.size))  # over its deviation
        self.tie[:, self.tuning_at] = np.array([1.0, -1.0][:count]) / _APART

    def passed(self, frequency_hz: FloatArray, values: FloatArray) -> FloatArray:
        """Power after over power before [shape=(n_points,)]."""
        # half, because the gain is of power and this is pressure
        through = np.full(frequency_hz.shape, np.exp(0.5 * values[0]), dtype=np.complex128)
        for meant_hz, own in zip(
            self._meant_hz, values[1:].reshape(-1, self._per_branch), strict=True
        ):
            off = np.log(frequency_hz / meant_hz)
            # what the exhaust looks like from the branch: nearly even in frequency, but for its
            # resonances
            tuning, log_loss, real, imaginary, real_slope, imaginary_slope, *of_modes = own
            zeta = real + 1j * imaginary + (real_slope + 1j * imaginary_slope) * off
            for mode, share in zip(self._modes, np.reshape(of_modes, (-1, 2)), strict=True):
                zeta = zeta + (share[0] + 1j * share[1]) * mode.response(frequency_hz)
            phase = np.pi / 2.0 * frequency_hz / (meant_hz * np.exp(tuning))
            impedance = np.exp(log_loss) - 1j / np.tan(phase)
            through = through * impedance / (impedance + zeta)
        return np.asarray(np.abs(through) ** 2)


def _fit(
    points: _Points, model: _BranchesModel, starts: Sequence[float]
) -> tuple[float, FloatArray]:
    """Give the cost of the best fit from there, and the values of its parameters."""
    from scipy.optimize import least_squares  # late: it takes 16 MB, and no drive alone needs it

    def residuals(values: FloatArray) -> FloatArray:
        off = _misfit(points, model, values)
        # beyond one deviation points pull with constant force: a few gear changes must not steer
        # the fit
        tamed = np.sign(off) * np.sqrt(2.0 * (np.sqrt(1.0 + off**2) - 1.0))
        unusual = (values - model.typical) / model.stray
        return np.concatenate([tamed / np.sqrt(_BINS_PER_LOOK), unusual, model.tie @ values])

    first = model.typical.copy()
    first[model.tuning_at] = starts
    found = least_squares(residuals, first, bounds=(model.low, model.high), max_nfev=_MOST_STEPS)
    return float(found.cost), np.asarray(found.x)


def _misfit(points: _Points, model: _BranchesModel, values: FloatArray) -> FloatArray:
    """Power after, less what the model makes of the power before, in standard deviations."""
    passed = model.passed(points.frequency_hz, values)
    expected = passed * points.before_ms
    variance = points.after_variance + passed**2 * points.before_variance
    return np.asarray((points.after_ms - expected) / np.sqrt(variance + (_SCATTER * expected) ** 2))


def _deviation_of_tunings(points: _Points, model: _BranchesModel, values: FloatArray) -> FloatArray:
    """Tell how unsure the logarithms of the tuned frequencies are [shape=(n_branches,)]."""
    step = 1e-4
    slopes = np.stack(
        [
            (_misfit(points, model, values + nudge) - _misfit(points, model, values - nudge))
            / (2.0 * step)
            for nudge in step * np.eye(values.size)
        ],
        axis=1,
    )
    information = slopes.T @ slopes / _BINS_PER_LOOK + np.diag(1.0 / model.stray**2)
    information += model.tie.T @ model.tie
    # a model that misses by more than the scatter says so in its intervals
    spread = float(np.mean(_misfit(points, model, values) ** 2))
    # a branch that no point feels tells no tuning, and a plain inverse would fail on it
    variance = np.diag(np.linalg.pinv(information)) * max(spread, _LEAST_SPREAD)
    return np.asarray(np.sqrt(variance[model.tuning_at]))


def _points_near(baseline: Findings, postfix: Findings, meant_hz: Sequence[float]) -> _Points:
    parts = [_points_of(before, after) for before, after in shared_curves(baseline, postfix)]
    table = np.concatenate(parts, axis=1) if parts else np.empty((5, 0))
    points = _Points(*table)
    near = (points.frequency_hz > min(meant_hz) / _NEAR) & (
        points.frequency_hz < max(meant_hz) * _NEAR
    )
    # chosen by the drive before alone: a choice by the drive after would leave out where the branch
    # works best
    stands_out = points.before_ms > 3.0 * np.sqrt(points.before_variance)
    return rows(points, near & stands_out)


def _points_of(before: OrderCurve, after: OrderCurve) -> FloatArray:
    laid = side_by_side(before, after)
    first, second, both = laid.before, laid.after, laid.shared
    return np.stack(
        [
            before.engine_order * bin_centre_rpm(laid.bins[both]) / 60.0,
            first.curve_ms[both],
            second.curve_ms[both],
            variance_of_bins(before, first)[both],
            variance_of_bins(after, second)[both],
        ]
    )


def _modes(baseline: Findings, meant_hz: Sequence[float]) -> list[_Mode]:
    """Resonances near the branches, each once, though several orders show it."""
    found: list[_Mode] = []
    for band in baseline.bands:
        near = min(meant_hz) / _NEAR_MODE < band.peak_hz < max(meant_hz) * _NEAR_MODE
        known = any(band.low_hz < mode.peak_hz < band.high_hz for mode in found)
        if near and not known:
            found.append(_Mode(peak_hz=band.peak_hz, q=band.peak_hz / (band.high_hz - band.low_hz)))
    return found
