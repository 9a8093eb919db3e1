"""Resonances fitted to the curves of several engine orders at once.

Every order reaches the ear through the same pipe and cabin, so a resonance has one frequency and
one width for all of them; where each order crosses it is another engine speed. That is what
tells a wide resonance from a slow trend, which one order alone leaves open. Gain and angle may
differ a little from order to order, or much where the data insist: orders can come from
different sources. Weighted least squares in decibels with weak priors (Huber's loss throughout).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.polynomial import legendre

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.bands.least_squares import Block, huber_cost, minimise
from analysis.find.bands.resonance_model import (
    MODE_TERMS,
    TREND_TERMS,
    CurveData,
    ResonanceFit,
    level_and_slopes,
    trend_basis,
)

# judgement: more would fit noise; 20 % more moved nothing.
MOST_RESONANCES = 5

# judgement: how far a smooth trend and a resonance may go before it costs. 20 % more of the trend
# moves a peak by 0.02 % and a rise by 0.3 dB, of the gain a rise by 0.14 dB, of the angle a peak by
# 0.006 %, of the rest a rise by 0.01 dB or nothing.
_TREND_SIZE_DB = np.array([60.0, 8.0, 2.5, 1.2, 0.7, 0.5])  # prior scales
_GAIN_LOG = (0.5, 1.5)  # prior middle and scale of ln gain
_ANGLE_RAD = 0.5  # prior scale
_OWN_GAIN_LOG, _OWN_ANGLE_RAD = 0.07, 0.07  # prior scales of one order's departure
_WIDTH = (0.02, 0.5)
_SCAN_WIDTHS = (0.03, 0.06, 0.1, 0.16, 0.25)
_SCAN_STEP = 0.01
_WORTH_CHI_SQUARE = 25.0
_HUBER = 2.5
_LEAST_SCALE = 0.08  # of the expected variance: what a smooth misfit does not show still counts


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Where each parameter of the joint fit stands.

    Trends of all orders, then the common parameters of all modes, then for each order and mode
    its own departure in ln gain and angle.
    """

    orders: int
    modes: int

    @property
    def size(self) -> int:
        return self.orders * (TREND_TERMS + 2 * self.modes) + MODE_TERMS * self.modes

    @property
    def departing(self) -> IntArray:
        """Which of the modes' parameters, ln gain and angle, may depart in each order."""
        return np.arange(MODE_TERMS * self.modes).reshape(self.modes, MODE_TERMS)[:, 2:].ravel()

    def places(self, order: int) -> IntArray:
        """Numbers of the parameters that one order's level depends on, its departures last."""
        trends, modes = self.orders * TREND_TERMS, MODE_TERMS * self.modes
        own = trends + modes + 2 * self.modes * order
        return np.concatenate(
            [
                np.arange(order * TREND_TERMS, (order + 1) * TREND_TERMS),
                np.arange(trends, trends + modes),
                np.arange(own, own + 2 * self.modes),
            ]
        )

    def columns(self, order: int) -> FloatArray:
        """Matrix that turns the joint parameters into those of one order."""
        own_terms = TREND_TERMS + MODE_TERMS * self.modes
        places = self.places(order)
        matrix = np.zeros((own_terms, self.size))
        matrix[np.arange(own_terms), places[:own_terms]] = 1.0
        # an order's own gain is the common one plus its departure, so both count in the same row
        matrix[TREND_TERMS + self.departing, places[own_terms:]] = 1.0
        return matrix


@dataclass(frozen=True, slots=True, kw_only=True)
class JointFit:
    """All orders' parameters together; :func:`separate` takes them apart."""

    layout: _Layout
    parameters: FloatArray
    chi_square: float
    points: int


def fit_orders(curves: Sequence[CurveData]) -> JointFit:
    """Fit all curves together, adding resonances while each explains more than scatter would."""
    state = _solve(curves, _start(curves))
    for _ in range(MOST_RESONANCES):
        guess = _with_next_mode(curves, state)
        if guess is None:
            break
        trial = _solve(curves, guess)
        # a curve that no model meets well must not buy resonances with its own misfit
        scatter = max(1.0, trial.chi_square / max(1, trial.points - trial.layout.size))
        if state.chi_square - trial.chi_square < _WORTH_CHI_SQUARE * scatter:
            break
        state = trial
    return state


def _start(curves: Sequence[CurveData]) -> JointFit:
    layout = _Layout(orders=len(curves), modes=0)
    parameters = np.zeros(layout.size)
    for order, data in enumerate(curves):
        # noise may exceed the total in a bin by chance; its logarithm must still exist
        net = np.maximum(data.total_ms - data.background_ms, 0.1 * data.total_ms)
        parameters[order * TREND_TERMS] = float(np.median(10.0 * np.log10(net)))
    return JointFit(layout=layout, parameters=parameters, chi_square=np.inf, points=0)


def _solve(curves: Sequence[CurveData], start: JointFit) -> JointFit:
    layout = start.layout
    together = _Together.of(curves, layout)
    usual, weight = _priors(start)
    own = slice(layout.size - 2 * layout.modes * layout.orders, layout.size)
    everywhere = np.arange(layout.size)

    def misfit(parameters: FloatArray) -> tuple[FloatArray, list[Block]]:
        residual, blocks = together.misfit(parameters)
        departure, steepness = _tolerant(weight * (parameters - usual), own)
        prior = Block(columns=everywhere, slopes=np.diag(weight * steepness))
        return np.concatenate([residual, departure]), [*blocks, prior]

    solved = minimise(misfit, start.parameters, _limits(curves, layout), _HUBER)
    # without the prior's part: two fits are compared by the data alone
    chi_square = float(huber_cost(together.misfit(solved)[0], _HUBER).sum())
    points = together.data.sigma_db.size
    return JointFit(layout=layout, parameters=solved, chi_square=chi_square, points=points)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Together:
    """All curves end to end: a dozen short ones one by one would cost several times as much.

    ``order`` [shape=(n_points,)] is which curve a point is of, ``ends`` where each curve ends.
    """

    layout: _Layout
    data: CurveData
    basis: FloatArray
    measured_db: FloatArray
    order: IntArray
    ends: IntArray
    places: tuple[IntArray, ...]

    @classmethod
    def of(cls, curves: Sequence[CurveData], layout: _Layout) -> _Together:
        sizes = [data.sigma_db.size for data in curves]
        bases = [trend_basis(data.frequency_hz, data.reference_hz) for data in curves]
        data = CurveData(
            **{
                each.name: np.concatenate([getattr(data, each.name) for data in curves])
                for each in fields(CurveData)
            }
        )
        return cls(
            layout=layout,
            data=data,
            basis=np.concatenate(bases),
            measured_db=10.0 * np.log10(data.total_ms),
            order=np.repeat(np.arange(len(curves)), sizes),
            ends=np.cumsum(sizes),
            places=tuple(layout.places(order) for order in range(layout.orders)),
        )

    def misfit(self, parameters: FloatArray) -> tuple[FloatArray, list[Block]]:
        """How far each point lies from what is expected, in its sigma, and by what that moves."""
        orders, modes = self.layout.orders, self.layout.modes
        trends, common, own = np.split(
            parameters, [orders * TREND_TERMS, orders * TREND_TERMS + MODE_TERMS * modes]
        )
        trend_db = (self.basis * trends.reshape(orders, TREND_TERMS)[self.order]).sum(axis=1)
        departures = own.reshape(orders, modes, 2)
        resonances = [
            (
                float(np.exp(log_hz)),
                float(np.exp(log_width)),
                np.exp(log_gain + departures[:, mode, 0])[self.order],
                (angle_rad + departures[:, mode, 1])[self.order],
            )
            for mode, (log_hz, log_width, log_gain, angle_rad) in enumerate(
                common.reshape(modes, MODE_TERMS)
            )
        ]
        level_db, share, slopes = level_and_slopes(trend_db, resonances, self.data)
        scaled = (share / self.data.sigma_db)[:, np.newaxis] * np.concatenate(
            [self.basis, slopes, slopes[:, self.layout.departing]], axis=1
        )
        parts = np.split(scaled, self.ends[:-1])
        residual = (level_db - self.measured_db) / self.data.sigma_db
        return residual, [
            Block(columns=columns, slopes=part)
            for columns, part in zip(self.places, parts, strict=True)
        ]


def _tolerant(departure: FloatArray, own: slice) -> tuple[FloatArray, FloatArray]:
    """Let an order's own departures grow at little cost once they are far from none (Cauchy).

    Returns the residuals and their steepness by departure. Without this an order that a mode
    does not reach at all would pull the mode away from the orders that it does reach.
    """
    residual, steepness = departure.copy(), np.ones(departure.size)
    far = departure[own]
    size = np.sqrt(np.log1p(far**2))
    residual[own] = np.sign(far) * size
    steepness[own] = np.where(
        size > 1e-6, np.abs(far) / ((1.0 + far**2) * np.maximum(size, 1e-9)), 1.0
    )
    return residual, steepness


def _priors(start: JointFit) -> tuple[FloatArray, FloatArray]:
    layout = start.layout
    usual = np.zeros(layout.size)
    levels = slice(0, layout.orders * TREND_TERMS, TREND_TERMS)
    usual[levels] = start.parameters[levels]
    first_mode = layout.orders * TREND_TERMS
    usual[first_mode : first_mode + MODE_TERMS * layout.modes][2::MODE_TERMS] = _GAIN_LOG[0]
    mode = [0.0, 0.0, 1.0 / _GAIN_LOG[1], 1.0 / _ANGLE_RAD]
    own = [1.0 / _OWN_GAIN_LOG, 1.0 / _OWN_ANGLE_RAD]
    weight = np.concatenate(
        [
            np.tile(1.0 / _TREND_SIZE_DB, layout.orders),
            np.tile(mode, layout.modes),
            np.tile(own, layout.modes * layout.orders),
        ]
    )
    return usual, weight


def _limits(curves: Sequence[CurveData], layout: _Layout) -> tuple[FloatArray, FloatArray]:
    lowest = min(data.reference_hz[0] for data in curves)
    highest = max(data.reference_hz[1] for data in curves)
    trends, own = layout.orders * TREND_TERMS, 2 * layout.modes * layout.orders
    # a little beyond what was driven: a flank at the edge is a resonance as well
    mode_low = [np.log(0.98 * lowest), np.log(_WIDTH[0]), -3.0, -1.5]
    mode_high = [np.log(1.02 * highest), np.log(_WIDTH[1]), 3.0, 1.5]
    low = [np.full(trends, -300.0), np.tile(mode_low, layout.modes), np.full(own, -4.0)]
    high = [np.full(trends, 300.0), np.tile(mode_high, layout.modes), np.full(own, 4.0)]
    return np.concatenate(low), np.concatenate(high)


def _with_next_mode(curves: Sequence[CurveData], state: JointFit) -> JointFit | None:
    """Start values with one more mode: the bump that explains most of what is left."""
    lowest = min(data.reference_hz[0] for data in curves)
    highest = max(data.reference_hz[1] for data in curves)
    centres = np.arange(np.log(lowest), np.log(highest), _SCAN_STEP)
    best_gain, best = 0.0, None
    together = _Together.of(curves, state.layout)
    left = np.split(-together.misfit(state.parameters)[0], together.ends[:-1])
    if state.layout.modes:
        # the fit has already given these points up; one wild bin must not place the next resonance
        left = [np.clip(each, -3.0 * _HUBER, 3.0 * _HUBER) for each in left]
    scans = [_Scan.of(*pair) for pair in zip(curves, left, strict=True)]
    for width in _SCAN_WIDTHS:
        pairs = [scan.explained(centres, width) for scan in scans]
        gained = np.sum([gain for gain, _ in pairs], axis=0)
        top = int(gained.argmax())
        if gained[top] > best_gain:
            heights = np.array([height[top] for _, height in pairs])
            shares = np.array([gain[top] for gain, _ in pairs])
            best_gain, best = float(gained[top]), (centres[top], width, heights, shares)
    if best is None:
        return None
    centre, width, heights, shares = best
    # the bump's height in dB is 20 lg(1 + gain) at its top
    log_gain = np.log(10.0 ** (np.clip(heights, 1.0, 25.0) / 20.0) - 1.0)
    common = float(np.average(log_gain, weights=shares))
    # an order that the bump hardly reaches says nothing of its own gain
    own = np.where(shares > 0.02 * shares.max(), log_gain - common, 0.0)
    return _extended(state, [centre, np.log(width), common, 0.0], own)


def _extended(state: JointFit, mode: list[float], own_gain_log: FloatArray) -> JointFit:
    old, new = state.layout, _Layout(orders=state.layout.orders, modes=state.layout.modes + 1)
    trends = old.orders * TREND_TERMS
    modes_end = trends + MODE_TERMS * old.modes
    own = state.parameters[modes_end:].reshape(old.orders, 2 * old.modes)
    added = np.stack([own_gain_log, np.zeros(old.orders)], axis=1)
    parameters = np.concatenate(
        [
            state.parameters[:modes_end],
            mode,
            np.concatenate([own, added], axis=1).ravel(),
        ]
    )
    return JointFit(layout=new, parameters=parameters, chi_square=np.inf, points=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scan:
    """What one order's curve still holds, with its trend projected out."""

    log_f: FloatArray
    sigma_db: FloatArray
    basis: FloatArray
    target: FloatArray

    @classmethod
    def of(cls, data: CurveData, left: FloatArray) -> _Scan:
        log_f = np.log(data.frequency_hz)
        span = max(float(log_f.max() - log_f.min()), 1e-6)
        place = 2.0 * (log_f - log_f.min()) / span - 1.0
        # the trend may give way to a bump, so judge both with the trend projected out
        smooth, _ = np.linalg.qr(legendre.legvander(place, 2) / data.sigma_db[:, np.newaxis])
        return cls(
            log_f=log_f,
            sigma_db=data.sigma_db,
            basis=smooth,
            target=left - smooth @ (smooth.T @ left),
        )

    def explained(self, centres: FloatArray, width: float) -> tuple[FloatArray, FloatArray]:
        """Chi-square that a bump at each centre would explain, and its best height in dB."""
        gain, height_db = np.zeros(centres.size), np.zeros(centres.size)
        inside = (centres > self.log_f.min() - width) & (centres < self.log_f.max() + width)
        ratio = np.exp(self.log_f[np.newaxis, :] - centres[inside, np.newaxis])
        detuning = (ratio - 1.0 / ratio) / width
        bumps = 10.0 * np.log10(1.0 + 9.0 / (1.0 + detuning**2)) / self.sigma_db
        bumps -= (bumps @ self.basis) @ self.basis.T
        along = bumps @ self.target
        size = (bumps**2).sum(axis=1)
        useful = (along > 0.0) & (size > 1e-3)
        safe = np.maximum(size, 1e-3)
        gain[inside] = np.where(useful, along**2 / safe, 0.0)
        height_db[inside] = np.where(useful, 10.0 * along / safe, 0.0)
        return gain, height_db


def separate(curves: Sequence[CurveData], state: JointFit) -> tuple[ResonanceFit, ...]:
    """Each order's own parameters and covariance, widened by how far the fit misses."""
    layout = state.layout
    _, weight = _priors(state)
    # the prior is information too: what the curve does not tell stays as wide as the prior
    information = np.diag(weight**2)
    together = _Together.of(curves, layout)
    residual, blocks = together.misfit(state.parameters)
    for block, misfit in zip(blocks, np.split(residual, together.ends[:-1]), strict=True):
        scale = max(_LEAST_SCALE, float(huber_cost(misfit, _HUBER).mean())) * _dependence(misfit)
        here = np.ix_(block.columns, block.columns)
        information[here] += block.slopes.T @ block.slopes / scale
    # a pseudo-inverse, because a mode that no order reaches leaves the matrix nearly singular
    covariance = np.linalg.pinv(information, hermitian=True)
    return tuple(
        ResonanceFit(
            parameters=layout.columns(order) @ state.parameters,
            covariance=layout.columns(order) @ covariance @ layout.columns(order).T,
            reference_hz=data.reference_hz,
        )
        for order, data in enumerate(curves)
    )


def _dependence(misfit: FloatArray) -> float:
    """Factor by which neighbouring bins that err together widen every interval."""
    centred = misfit - misfit.mean()
    power = float(np.dot(centred, centred))
    if power == 0.0:
        return 1.0
    lag = float(np.clip(np.dot(centred[1:], centred[:-1]) / power, 0.0, 0.9))
    return (1.0 + lag) / (1.0 - lag)
