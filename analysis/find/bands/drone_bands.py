"""Drone bands of one order: fit its curve, and read peak and half-power points off the fit."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.find.bands.resonance_fit import fit_orders, separate
from analysis.find.bands.resonance_model import CurveData, ResonanceFit, rise_db
from analysis.find.curves.order_points import OrderPoints, comparable, swept_rpm
from analysis.findings import DroneBand, LockedTo

LEAST_RISE_DB = 6.0  # judgement: less is not called a drone; 20 % more loses none of 9 dB

# judgement: what must be seen before a bump is a drone and a line an order. 20 % more of each:
# _MODEL_SIGMA_DB moves a peak by 0.005 %, a rise by 0.1 dB and a width by 0.2 %, _CLEAR_RATIO and
# _OFFSET_SHRINK a rise by 0.01 dB; the others move nothing.
_LEAST_SURE_RISE_DB = 3.0  # lower end of the rise's 95 % interval
_NARROWEST = 0.03  # three rpm bins: below it a peak is one bin's chance
_WIDEST = 0.45  # half-power width over peak: beyond it a bump is a trend
_LEAST_POINTS = 15
_MOST_ORDERS = 12
_LEAST_SHARE = 0.03  # of the loudest order's mean square, at the engine speed where it is most
_LEAST_CLEAR_POINTS = 7
_CLEAR_RATIO = 2.0  # total over background, averaged over neighbours, that shows the order
_PEAK_RATIO, _PEAK_BINS = 3.0, 5  # the same, as a median, at the peak of a band
_CLEAR_BINS = 7
_SILENCE_MS = 1e-30
_BEYOND = 1.04  # a half-power point may lie this far outside what was driven
_MODEL_SIGMA_DB = 0.45  # cycle-to-cycle and pass-to-pass scatter that no averaging removes
_FREQUENCY_FLOOR = 0.0004  # engine speed is not known better than this part
_UPPER_EDGE = 1.06  # more than the fit knows: 91.8 % of 427 true edges lay within its interval
_OFFSET_SHRINK = 8.0  # bins a pass must have before its own level is half believed


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedOrder:
    """An order's fit, None where the order is too weak for one, and its bands."""

    fit: ResonanceFit | None
    bands: tuple[DroneBand, ...]


def fit_drones(orders: Sequence[OrderPoints], level_offset_db: float) -> tuple[FittedOrder, ...]:
    """Fit all orders together and find the bands of each, in the order given.

    ``level_offset_db`` turns 10 lg(mean square) into level.
    """
    fitted = [FittedOrder(fit=None, bands=())] * len(orders)
    driven_rpm = [swept_rpm(points) for points in orders]
    orders = comparable(orders)
    strong = _strong(orders)
    if not strong:
        return tuple(fitted)
    fits, curves = _fits([orders[index] for index in strong])
    for index, data, fit in zip(strong, curves, fits, strict=True):
        order = orders[index].engine_order
        driven_hz = order / 60.0 * driven_rpm[index]
        bands = _bands(order, fit, data, driven_hz, level_offset_db)
        fitted[index] = FittedOrder(fit=fit, bands=bands)
    return tuple(fitted)


def _fits(orders: Sequence[OrderPoints]) -> tuple[Sequence[ResonanceFit], list[CurveData]]:
    """Fit twice: the first fit tells how loud each pass is, the second has them at one level."""
    curves = [_pooled(points, None) for points in orders]
    first = separate(curves, fit_orders(curves))
    curves = [
        _pooled(points, _pass_offsets_db(points, fit))
        for points, fit in zip(orders, first, strict=True)
    ]
    return separate(curves, fit_orders(curves)), curves


def _strong(orders: Sequence[OrderPoints]) -> list[int]:
    """Orders that stand clear of the noise and somewhere come near the loudest one."""
    if not orders or np.unique(orders[0].bin_index).size < _LEAST_POINTS:
        return []
    curves = [_pooled(points, None) for points in orders]
    net = np.stack([np.maximum(data.total_ms - data.background_ms, 0.0) for data in curves])
    # smoothed first, or the share of a soft order is that of its luckiest bin
    net = uniform_filter1d(net, _CLEAR_BINS, axis=1)
    share = (net / net.max(axis=0).clip(_SILENCE_MS)).max(axis=1)
    clear = np.array([np.count_nonzero(_clear(data)) for data in curves])
    share[clear < _LEAST_CLEAR_POINTS] = 0.0
    ranked = sorted(range(len(orders)), key=lambda index: -share[index])
    return sorted(index for index in ranked[:_MOST_ORDERS] if share[index] > _LEAST_SHARE)


def _clear(data: CurveData) -> NDArray[np.bool_]:
    """Bins in which total over noise, averaged with the neighbours, is above the least."""
    total = uniform_filter1d(data.total_ms / data.background_ms.clip(_SILENCE_MS), _CLEAR_BINS)
    return np.asarray(total > _CLEAR_RATIO)


def _pooled(points: OrderPoints, offset_db: FloatArray | None) -> CurveData:
    """All passes of each bin put together, each pass brought to the common level."""
    offset = 0.0 if offset_db is None else offset_db[points.pass_index]
    gain = 10.0 ** (-0.1 * offset) * np.ones(points.rpm.size)
    index, where = np.unique(points.bin_index, return_inverse=True)

    def pooled(values: FloatArray) -> FloatArray:
        return np.bincount(where, weights=values, minlength=index.size).astype(np.float64)

    seconds = pooled(points.seconds)
    # mean squares are averaged, not decibels: a mean of dB reads noise too low
    total = (pooled(points.seconds * points.total_ms * gain) / seconds).clip(_SILENCE_MS)
    background = pooled(points.seconds * points.background_ms * gain) / seconds
    rpm = pooled(points.seconds * points.rpm) / seconds
    # overlapping Hann windows tell something new about every 0.4 of their length
    independent = pooled(np.maximum(1.0, points.seconds / (0.4 * points.window_s)))
    noise = np.minimum(background / total, 1.0)
    # 4.34 is 10 / ln 10: relative scatter of the power, as dB
    noise_db = 4.34 * np.sqrt((2.0 * noise - noise**2) / independent)
    return CurveData(
        frequency_hz=points.engine_order * rpm / 60.0,
        total_ms=total,
        background_ms=background,
        sigma_db=np.hypot(_MODEL_SIGMA_DB, noise_db),
    )


def _pass_offsets_db(points: OrderPoints, fit: ResonanceFit) -> FloatArray:
    """How much louder each pass is than the fit, shrunk towards 0 for short passes."""
    frequency_hz = points.engine_order * points.rpm / 60.0
    expected_db = fit.trend_db(frequency_hz) + fit.rise_db(frequency_hz)
    net = points.total_ms - points.background_ms
    # elsewhere the level of a pass is that of the noise, which does not rise with the foot
    clear = points.total_ms > _CLEAR_RATIO * points.background_ms
    passes = int(points.pass_index.max()) + 1
    excess_db = 10.0 * np.log10(np.where(clear, net, 1.0)) - expected_db
    sums = np.bincount(points.pass_index[clear], weights=excess_db[clear], minlength=passes)
    counts = np.bincount(points.pass_index[clear], minlength=passes)
    return sums / (counts + _OFFSET_SHRINK)


def _bands(
    order: float,
    fit: ResonanceFit,
    data: CurveData,
    driven_hz: FloatArray,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    # fine enough that a half-power point lies within a hundredth of the narrowest band
    grid_hz = np.geomspace(driven_hz[0] / _BEYOND, driven_hz[1] * _BEYOND, 4000)
    curve_db = fit.rise_db(grid_hz)
    ratio = data.total_ms / data.background_ms.clip(_SILENCE_MS)
    clear = median_filter(ratio, _PEAK_BINS) > _PEAK_RATIO  # one loud bin is chance, not a band
    bands: list[DroneBand] = []
    for mode in fit.resonances:
        shape = _half_power(fit.parameters, grid_hz, curve_db, mode.frequency_hz)
        if shape is None:
            continue
        peak_hz, low_hz, high_hz, height_db = shape
        # a peak outside what was driven is only the fit's guess
        if not data.reference_hz[0] < peak_hz < data.reference_hz[1]:
            continue
        width = (high_hz - low_hz) / peak_hz
        if height_db < LEAST_RISE_DB or not _NARROWEST < width < _WIDEST:
            continue
        if not clear[np.abs(data.frequency_hz - peak_hz).argmin()]:
            continue
        spread = _spread(fit, grid_hz, mode.frequency_hz, shape)
        if height_db - SURE * spread[3] < _LEAST_SURE_RISE_DB:
            continue
        level_db = float(fit.trend_db(np.array([peak_hz]))[0]) + height_db + level_offset_db
        bands.append(_band(order, shape, spread, level_db))
    return _apart(bands)


def _apart(bands: list[DroneBand]) -> tuple[DroneBand, ...]:
    """Of bands that overlap only the highest: two peaks without a valley are one hill."""
    kept: list[DroneBand] = []
    for band in sorted(bands, key=lambda band: -band.rise_db):
        if all(band.high_hz < other.low_hz or band.low_hz > other.high_hz for other in kept):
            kept.append(band)
    return tuple(kept)


def _band(
    order: float,
    shape: tuple[float, float, float, float],
    spread: FloatArray,
    level_db: float,
) -> DroneBand:
    peak_hz, low_hz, high_hz, height_db = shape

    def interval(value_hz: float, error_hz: float) -> Interval:
        reach = SURE * float(np.hypot(error_hz, _FREQUENCY_FLOOR * value_hz))
        return Interval(low=value_hz - reach, high=value_hz + reach)

    return DroneBand(
        engine_order=order,
        peak_rpm=60.0 * peak_hz / order,
        low_rpm=60.0 * low_hz / order,
        high_rpm=60.0 * high_hz / order,
        rise_db=height_db,
        level_db=level_db,
        locked_to=LockedTo.UNKNOWN,
        peak_hz_ci95=interval(peak_hz, spread[0]),
        low_hz_ci95=interval(low_hz, spread[1]),
        high_hz_ci95=interval(high_hz, _UPPER_EDGE * spread[2]),
    )


def _half_power(
    parameters: FloatArray, grid_hz: FloatArray, curve_db: FloatArray, near_hz: float
) -> tuple[float, float, float, float] | None:
    """Peak, half-power points (Hz) and height (dB) of the hill that ``near_hz`` stands on.

    None when the hill's top or one of its half-power points was not driven through.
    """
    top = int(np.searchsorted(grid_hz, near_hz))
    top = min(max(top, 1), grid_hz.size - 2)
    while 0 < top < grid_hz.size - 1:
        step = int(np.argmax(curve_db[top - 1 : top + 2])) - 1
        if step == 0:
            break
        top += step
    else:
        return None
    below = np.flatnonzero(curve_db < curve_db[top] - 10.0 * np.log10(2.0))
    left, right = below[below < top], below[below > top]
    if left.size == 0 or right.size == 0:
        return None
    target = curve_db[top] - 10.0 * np.log10(2.0)

    def crossing(index: int) -> float:
        part = (target - curve_db[index]) / (curve_db[index + 1] - curve_db[index])
        return float(grid_hz[index] + part * (grid_hz[index + 1] - grid_hz[index]))

    # a parabola through the three highest points: finer than the grid
    a, b, c = curve_db[top - 1 : top + 2]
    part = 0.5 * (a - c) / (a - 2.0 * b + c) if a - 2.0 * b + c < 0 else 0.0
    peak_hz = float(grid_hz[top] * (grid_hz[1] / grid_hz[0]) ** part)
    return peak_hz, crossing(int(left[-1])), crossing(int(right[0]) - 1), float(curve_db[top])


def _spread(
    fit: ResonanceFit,
    grid_hz: FloatArray,
    near_hz: float,
    shape: tuple[float, float, float, float],
) -> FloatArray:
    """Give standard errors of peak, low, high (Hz) and height (dB)."""
    centre = np.array(shape)
    slopes = np.zeros((4, fit.parameters.size))
    errors = np.sqrt(np.maximum(np.diag(fit.covariance), 0.0))
    for index in range(fit.parameters.size):
        # well within the uncertainty, so that the hill does not turn into another one
        step = min(0.2 * errors[index], 0.02)
        if step <= 0.0:
            continue
        moved = fit.parameters.copy()
        moved[index] += step
        other = _half_power(moved, grid_hz, rise_db(moved, grid_hz), near_hz)
        if other is not None:
            slopes[:, index] = (np.array(other) - centre) / step
    return np.sqrt(np.maximum(np.diag(slopes @ fit.covariance @ slopes.T), 0.0))
