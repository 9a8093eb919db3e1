"""Resonances fitted to the whole curves of all orders at once, which an engine may allow.

Every order reaches the ear through the same pipe and cabin, so a resonance has one frequency, width
and angle for all of them, and nearly one gain; where each order crosses it is another engine speed.
That is what tells a wide resonance from a slow trend, which one order alone leaves open. An engine
that does much of its own is not met by it: whether it is, the misfit tells. Weighted least squares
in decibels with weak priors (Huber's loss throughout).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.bands.least_squares import Block, huber_cost, minimise
from analysis.find.bands.resonance_model import (
    MODE_TERMS,
    CurveData,
    ResonanceFit,
    level_and_slopes,
    trend_basis,
)

# judgement: how far a smooth trend and a resonance may go before it costs: prior scales
_TREND_DB = np.array([60.0, 8.0, 2.5, 1.2, 0.7, 0.5])
_GAIN_LOG = (0.5, 1.5)  # prior middle and scale of ln gain
_ANGLE_RAD = 0.3
_OWN_GAIN_LOG = 0.07  # of one order's departure from the common gain
_WIDTH = (0.02, 0.5)
_HUBER = 2.5  # judgement: misfits beyond so many sigma pull with constant force
# judgement: the mean square misfit, in sigma, up to which the model is that of this engine. Of made
# engines with nearly like cylinders 19 in 20 are below, of those on hostile roads 1 in 10
_MEETS = 0.5
_LEAST_SCALE = 0.08  # judgement: of the expected variance: a smooth misfit does not show all


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Where each parameter stands: trends of all orders, modes, each order's departures in gain."""

    orders: int
    modes: int

    @property
    def trends(self) -> int:
        return self.orders * _TREND_DB.size

    @property
    def common(self) -> int:
        """Number of parameters before the departures."""
        return self.trends + MODE_TERMS * self.modes

    @property
    def size(self) -> int:
        return self.common + self.orders * self.modes

    def columns(self, order: int) -> IntArray:
        """Those that one order's level depends on: its trend, the modes, its departures."""
        own = self.common + self.modes * order
        return np.concatenate(
            [
                np.arange(order * _TREND_DB.size, (order + 1) * _TREND_DB.size),
                np.arange(self.trends, self.common),
                np.arange(own, own + self.modes),
            ]
        )

    def split(self, order: int, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
        """One order's trend [shape=(n_terms,)] and modes [shape=(n_modes, MODE_TERMS)]."""
        ends = [_TREND_DB.size, _TREND_DB.size + MODE_TERMS * self.modes]
        trend, common, departure = np.split(parameters[self.columns(order)], ends)
        modes = common.reshape(self.modes, MODE_TERMS).copy()
        modes[:, _GAIN] += departure
        return trend, modes


_GAIN = 2  # a definition: place of ln gain among a mode's terms


def fit_together(curves: Sequence[CurveData], modes: FloatArray) -> tuple[ResonanceFit, ...] | None:
    """Fit all curves with as many modes as are given to start from, one fit for each curve.

    ``modes`` [shape=(n_modes, MODE_TERMS)] as in :class:`ResonanceFit`, whose order all fits keep.
    None where the curves are not met by it.
    """
    layout = _Layout(orders=len(curves), modes=modes.shape[0])
    bases = [trend_basis(each.frequency_hz, each.reference_hz, _TREND_DB.size) for each in curves]
    start, usual, weight = _priors(curves, layout, modes)
    everywhere = np.arange(layout.size)

    def misfit(parameters: FloatArray) -> tuple[list[FloatArray], list[Block]]:
        found = [
            _misfit(layout, order, data, basis, parameters)
            for order, (data, basis) in enumerate(zip(curves, bases, strict=True))
        ]
        return [residual for residual, _ in found], [block for _, block in found]

    def model(parameters: FloatArray) -> tuple[FloatArray, list[Block]]:
        residuals, blocks = misfit(parameters)
        prior = Block(columns=everywhere, slopes=np.diag(weight))
        return np.concatenate([*residuals, weight * (parameters - usual)]), [*blocks, prior]

    solved = minimise(model, start, _limits(curves, layout), _HUBER)
    residuals, blocks = misfit(solved)
    costs = [huber_cost(residual, _HUBER) for residual in residuals]
    # noise is met by any model: bins that hold little of it tell
    clear = np.concatenate([each.sigma_db for each in curves]) ** -4.0
    if np.average(np.concatenate(costs), weights=clear) > _MEETS:
        return None
    information = np.diag(weight**2)  # what is thought before is information too
    for block, residual, cost in zip(blocks, residuals, costs, strict=True):
        scale = max(_LEAST_SCALE, float(cost.mean())) * _dependence(residual)
        here = np.ix_(block.columns, block.columns)
        information[here] += block.slopes.T @ block.slopes / scale
    # a pseudo-inverse, because a mode that no order reaches leaves the matrix nearly singular
    covariance = np.asarray(np.linalg.pinv(information, hermitian=True), dtype=np.float64)
    return tuple(
        _of_order(layout, order, data, solved, covariance) for order, data in enumerate(curves)
    )


def _priors(
    curves: Sequence[CurveData], layout: _Layout, modes: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Where the fit starts, what is usual, and the weight of a departure from that."""
    start, usual = np.zeros(layout.size), np.zeros(layout.size)
    for order, data in enumerate(curves):
        # noise may exceed the total in a bin by chance; its logarithm must still exist
        net = np.maximum(data.total_ms - data.background_ms, 0.1 * data.total_ms)
        start[order * _TREND_DB.size] = float(np.median(10.0 * np.log10(net)))
    usual[: layout.trends] = start[: layout.trends]
    start[layout.trends : layout.common] = modes.ravel()
    usual[layout.trends : layout.common][_GAIN::MODE_TERMS] = _GAIN_LOG[0]
    weight = np.concatenate(
        [
            np.tile(1.0 / _TREND_DB, layout.orders),
            np.tile([0.0, 0.0, 1.0 / _GAIN_LOG[1], 1.0 / _ANGLE_RAD], layout.modes),
            np.full(layout.orders * layout.modes, 1.0 / _OWN_GAIN_LOG),
        ]
    )
    return start, usual, weight


def _limits(curves: Sequence[CurveData], layout: _Layout) -> tuple[FloatArray, FloatArray]:
    lowest = np.log(min(data.reference_hz[0] for data in curves))
    highest = np.log(max(data.reference_hz[1] for data in curves))
    trends, own = np.full(layout.trends, 300.0), np.full(layout.orders * layout.modes, 4.0)
    low, high = [lowest, np.log(_WIDTH[0]), -3.0, -1.5], [highest, np.log(_WIDTH[1]), 3.0, 1.5]
    return (
        np.concatenate([-trends, np.tile(low, layout.modes), -own]),
        np.concatenate([trends, np.tile(high, layout.modes), own]),
    )


def _misfit(
    layout: _Layout, order: int, data: CurveData, basis: FloatArray, parameters: FloatArray
) -> tuple[FloatArray, Block]:
    """How far one order's bins lie from what is expected, in sigma, and by what that moves."""
    trend, modes = layout.split(order, parameters)
    level_db, share, slopes = level_and_slopes(basis @ trend, modes.ravel(), data)
    by = np.concatenate([basis, slopes, slopes[:, _GAIN::MODE_TERMS]], axis=1)
    residual = (level_db - 10.0 * np.log10(data.total_ms)) / data.sigma_db
    slopes = (share / data.sigma_db)[:, np.newaxis] * by
    return residual, Block(columns=layout.columns(order), slopes=slopes)


def _of_order(
    layout: _Layout, order: int, data: CurveData, solved: FloatArray, covariance: FloatArray
) -> ResonanceFit:
    """Take one order's own parameters, and the covariance of its modes, out of the joint ones."""
    trend, modes = layout.split(order, solved)
    places = layout.columns(order)[_TREND_DB.size :]
    turn = np.zeros((modes.size, places.size))
    turn[:, : modes.size] = np.eye(modes.size)
    turn[np.arange(_GAIN, modes.size, MODE_TERMS), np.arange(modes.size, places.size)] = 1.0
    return ResonanceFit(
        trend=trend,
        modes=modes.ravel(),
        covariance=turn @ covariance[np.ix_(places, places)] @ turn.T,
        reference_hz=data.reference_hz,
    )


def _dependence(misfit: FloatArray) -> float:
    """Factor by which neighbouring bins that err together widen every interval."""
    centred = misfit - misfit.mean()
    power = float(np.dot(centred, centred))
    if power == 0.0:
        return 1.0
    lag = float(np.clip(np.dot(centred[1:], centred[:-1]) / power, 0.0, 0.9))
    return (1.0 + lag) / (1.0 - lag)
