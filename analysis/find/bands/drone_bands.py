"""Drone bands of each order: the hills of its level, with a resonance fitted to each."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.ndimage import median_filter

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.basics.rows import rows
from analysis.find.bands.climbs import climbs
from analysis.find.bands.hill_fit import fit_hill, mode_of, tried
from analysis.find.bands.hill_shapes import agree, mean_of_others, shapes_of
from analysis.find.bands.hills import (
    HALF_POWER_DB,
    STEP,
    Hill,
    SeenLevel,
    cut_hills,
    hills,
    seen_level,
)
from analysis.find.bands.level_curves import level_curve, strong_orders
from analysis.find.bands.own_level import chances
from analysis.find.bands.resonance_model import CurveData, ResonanceFit, rise_db
from analysis.find.curves.order_points import (
    OrderPoints,
    comparable,
    pulled_away_rpm,
    swept_rpm,
)
from analysis.findings import Climb, DroneBand, LockedTo

# judgement: half-way between 3 dB, which nobody would call a hill, and 6 dB, which everybody would
LEAST_RISE_DB = 4.5


class _Least(NamedTuple):
    """What must be seen of a hill before it is a drone.

    ``sure_rise_db`` is the lower end of the 95 % interval of its rise, ``peak_ratio`` total over
    background at the peak, as a median.
    """

    sure_rise_db: float
    peak_ratio: float


# judgement: at 2 dB less is told that is not there than is passed over; with a ratio of 2.0 one
# more hill of 124 is found on generated roads, and of 18 plain and lossily coded drives 4 more
# bands are told where none is
_ALONE = _Least(sure_rise_db=2.0, peak_ratio=3.0)
# judgement: chance puts no hill of one order where another has its own. Of 34 hills of generated
# roads between the two all are there; of 27 without a witness 3 are not
_WITNESSED = _Least(sure_rise_db=0.5, peak_ratio=2.0)

# judgement: what else must be seen before a hill is a drone
_NARROWEST = 0.05  # of the hill as seen: the orders' windows and the bins blur as much
_WIDEST = 0.45  # half-power width over peak: beyond it a bump is a trend
_CUT_RISE_DB = 6.0  # of a hill cut off, and surely of the whole one that vouches for it
_HELPING_DB = 4.0  # a lower hill of another order says nothing of where a resonance lies
_BELOW_LOUDEST_DB = 15.0  # so far under the loudest order nobody hears another apart
_CLIMBS_BELOW_DB = 10.0  # nobody is told to drive on for the sake of a softer one
_PEAK_BINS = 5  # one loud bin is chance
_SILENCE_MS = 1e-30
_BEYOND = 1.04  # a half-power point may lie this far outside what was driven
_FREQUENCY_FLOOR = 0.0004  # engine speed is not known better than this part
_FLANKS = 1.3  # judgement: what else a car does to a level tilts flanks more than it moves a top
# judgement: where no resonance fits a hill that is seen, its own top and flanks are told, with so
# much of its width as their standard error
_AS_SEEN = 0.25
_AS_LOUD_DB = 0.4  # judgement: less than anybody hears; tops are as flat as this


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedOrder:
    """An order's points, its level, None where it is too weak for one, and its bands.

    The level leaves out the pulling away unless a band lies there. ``shapes`` are the resonances of
    ``bands``, in the same order; ``climbs`` are what no band tells of.
    """

    points: OrderPoints
    level: SeenLevel | None = None
    bands: tuple[DroneBand, ...] = ()
    shapes: tuple[ResonanceFit, ...] = ()
    climbs: tuple[Climb, ...] = ()


def fit_drones(orders: Sequence[OrderPoints], level_offset_db: float) -> tuple[FittedOrder, ...]:
    """Find the bands of each order, in the order given.

    ``level_offset_db`` turns 10 lg(mean square) into level.
    """
    strong = {points.engine_order: points for points in strong_orders(comparable(orders))}
    curves = {order: level_curve(points) for order, points in strong.items()}
    levels = {order: seen_level(data) for order, data in curves.items()}
    seen = [
        (order, hill)
        for order, level in levels.items()
        for hill in hills(level, _HELPING_DB)
        if _is_heard(levels, order, hill)
    ]
    shapes, own_share = shapes_of(curves, seen)
    driven_hz = {
        points.engine_order: points.engine_order / 60.0 * swept_rpm(points) for points in orders
    }
    shaped = {
        order: [_Shaped.of(shape, levels[order], driven_hz[order]) for shape in found]
        for order, found in shapes.items()
    }
    whole = _drones(curves, shaped)
    fitted = []
    for points in orders:
        order = points.engine_order
        if order not in strong:
            fitted.append(FittedOrder(points=points))
            continue
        others = _of_others(order, whole)
        cut = _cut_off(order, curves[order], levels, driven_hz[order], others, own_share)
        kept = _apart(cut, whole[order])
        bands = tuple(each.band(order, level_offset_db) for each in kept)
        unseen = (
            replace(climb, level_db=climb.level_db + level_offset_db)
            for climb in climbs(order, levels[order], bands)
            if _below_loudest_db(levels, climb.rpm, climb.level_db) < _CLIMBS_BELOW_DB
        )
        fitted.append(
            FittedOrder(
                points=points,
                level=_once_away(levels[order], order, pulled_away_rpm(strong[order]), bands),
                bands=bands,
                shapes=tuple(each.fit for each in kept),
                climbs=tuple(unseen),
            )
        )
    return tuple(fitted)


def _drones(
    curves: dict[float, CurveData], shaped: dict[float, list["_Shaped"]]
) -> dict[float, list["_Shaped"]]:
    """Keep the hills that are drones: sure by themselves, or by one of another order."""
    sure = {
        order: [each for each in found if each.is_drone(curves[order], _ALONE)]
        for order, found in shaped.items()
    }
    drones = {}
    for order, found in shaped.items():
        others = _of_others(order, sure)
        least = [_WITNESSED if _witnesses(each.fit, others) else _ALONE for each in found]
        asked = zip(found, least, strict=True)
        drones[order] = _apart([each for each, of in asked if each.is_drone(curves[order], of)])
    return drones


def _of_others(order: float, found: dict[float, list["_Shaped"]]) -> list["_Shaped"]:
    return [each for other, of_it in found.items() if other != order for each in of_it]


def _witnesses(fit: ResonanceFit, others: Sequence["_Shaped"]) -> list["_Shaped"]:
    """Those of ``others`` that may be of the same resonance."""
    return [each for each in others if agree(mode_of(fit), mode_of(each.fit))]


def _cut_off(
    order: float,
    data: CurveData,
    levels: dict[float, SeenLevel],
    driven_hz: FloatArray,
    others: Sequence["_Shaped"],
    own_share: FloatArray,
) -> list["_Shaped"]:
    """Hills at the ends of what was driven, of which one flank is seen.

    That alone could be where the level bends. It takes another order, one that tells a whole hill
    of the same resonance.
    """
    found = []
    high = [each for each in others if each.hill.surely_db >= _CUT_RISE_DB]
    for hill in cut_hills(levels[order], _CUT_RISE_DB):
        if not _is_heard(levels, order, hill):
            continue
        alone = tried(data, hill)
        chance = chances(alone.log_likelihood, own_share)
        fit = alone.fit(chance)
        witnesses = _witnesses(fit, high)
        if not witnesses:
            continue
        # what falls on beyond the resonance's own foot is not its height
        seen_db = min(hill.prominence_db, max(each.hill.prominence_db for each in witnesses))
        hill = replace(hill, prominence_db=seen_db)
        hint = mean_of_others(mode_of(fit), [mode_of(each.fit) for each in witnesses])
        shaped = _Shaped.of((hill, fit_hill(data, hill, hint, chance)), levels[order], driven_hz)
        shape = shaped.shape
        driven = driven_hz[0] / _BEYOND < shape.low_hz and shape.high_hz < driven_hz[1] * _BEYOND
        if driven and shaped.is_drone(data, _ALONE):
            found.append(shaped)
    return found


def _once_away(
    level: SeenLevel, order: float, away_rpm: float, bands: Sequence[DroneBand]
) -> SeenLevel:
    """Leave the pulling away out of what others lay an exhaust's level on: its load is another."""
    if any(band.low_rpm < away_rpm for band in bands):
        return level
    return rows(level, level.log_f >= np.log(order / 60.0 * max(away_rpm, 1.0)))


def _is_heard(levels: dict[float, SeenLevel], order: float, hill: Hill) -> bool:
    """Whether a hill's top comes near the loudest order at its engine speed."""
    below_db = _below_loudest_db(levels, 60.0 * hill.top_hz / order, hill.level_db)
    return below_db < _BELOW_LOUDEST_DB


def _below_loudest_db(levels: dict[float, SeenLevel], rpm: float, level_db: float) -> float:
    at = [
        np.interp(np.log(each * rpm / 60.0), level.log_f, level.level_db)
        for each, level in levels.items()
    ]
    return float(np.nanmax(at)) - level_db


class _Shape(NamedTuple):
    """Where a resonance peaks and falls to half power; or errors of these."""

    peak_hz: float
    low_hz: float
    high_hz: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shaped:
    """A hill with its resonance; ``error`` holds the standard errors of its shape."""

    hill: Hill
    fit: ResonanceFit
    shape: _Shape
    error: _Shape

    @classmethod
    def of(
        cls, seen: tuple[Hill, ResonanceFit], level: SeenLevel, driven_hz: FloatArray
    ) -> "_Shaped":
        hill, fit = seen
        # fine enough that a half-power point lies within a hundredth of the narrowest band
        grid_hz = np.geomspace(driven_hz[0] / _BEYOND, driven_hz[1] * _BEYOND, 4000)
        near_hz = float(np.exp(fit.first[0]))
        shape = _half_power(grid_hz, fit.rise_db(grid_hz), near_hz)
        peak_hz = None if shape is None or _is_trend(shape) else _where_loud(level, hill, shape)
        if shape is not None and peak_hz is not None:
            error = _standard_error(fit, grid_hz, near_hz, shape)
            return cls(hill=hill, fit=fit, shape=shape._replace(peak_hz=peak_hz), error=error)
        error_hz = _AS_SEEN * hill.width * hill.top_hz
        return cls(
            hill=hill,
            fit=fit,
            shape=_Shape(hill.top_hz, *hill.half_power_hz),
            error=_Shape(error_hz, error_hz, error_hz),
        )

    def is_drone(self, data: CurveData, least: _Least) -> bool:
        """Whether the hill is high, sure, and as wide as a resonance is."""
        hill = self.hill
        ratio = data.total_ms / data.background_ms.clip(_SILENCE_MS)
        clear = median_filter(ratio, _PEAK_BINS) > least.peak_ratio
        return bool(
            hill.prominence_db >= LEAST_RISE_DB
            and hill.surely_db >= least.sure_rise_db
            and hill.width >= _NARROWEST
            and not _is_trend(self.shape)
            and clear[np.abs(data.frequency_hz - hill.top_hz).argmin()]
        )

    def band(self, order: float, level_offset_db: float) -> DroneBand:
        """Give the band as others read it."""
        (peak_hz, low_hz, high_hz), error = self.shape, self.error

        def interval(value_hz: float, error_hz: float) -> Interval:
            reach = SURE * float(np.hypot(error_hz, _FREQUENCY_FLOOR * value_hz))
            return Interval(low=value_hz - reach, high=value_hz + reach)

        return DroneBand(
            engine_order=order,
            peak_rpm=60.0 * peak_hz / order,
            low_rpm=60.0 * low_hz / order,
            high_rpm=60.0 * high_hz / order,
            rise_db=self.hill.prominence_db,
            level_db=self.hill.level_db + level_offset_db,
            locked_to=LockedTo.UNKNOWN,
            peak_hz_ci95=interval(peak_hz, error.peak_hz),
            low_hz_ci95=interval(low_hz, _FLANKS * error.low_hz),
            high_hz_ci95=interval(high_hz, _FLANKS * error.high_hz),
        )


def _apart(shaped: Sequence[_Shaped], stay: Sequence[_Shaped] = ()) -> list[_Shaped]:
    """Of bands that overlap only the highest: two peaks without a valley are one hill.

    Those that ``stay`` are kept in any case.
    """
    kept = list(stay)
    for each in sorted(shaped, key=lambda each: -each.hill.prominence_db):
        low_hz, high_hz = each.shape.low_hz, each.shape.high_hz
        if all(high_hz < one.shape.low_hz or low_hz > one.shape.high_hz for one in kept):
            kept.append(each)
    return kept


def _is_trend(shape: _Shape) -> bool:
    """Whether it is too wide for a resonance, as where two that are fitted run into each other."""
    return (shape.high_hz - shape.low_hz) / shape.peak_hz >= _WIDEST


def _where_loud(level: SeenLevel, hill: Hill, shape: _Shape) -> float | None:
    """Place nearest to a resonance's peak where the level is as good as at the hill's top.

    None where that is off the resonance's own top: it is not the hill's then.
    """
    peak_hz = shape.peak_hz
    on_it = np.abs(level.log_f - np.log(hill.top_hz)) < 0.5 * STEP
    on_it |= (level.log_f > np.log(hill.half_power_hz[0])) & (
        level.log_f < np.log(hill.half_power_hz[1])
    )
    loud = level.log_f[on_it & (level.level_db >= hill.level_db - _AS_LOUD_DB)]
    nearest = loud[np.abs(loud - np.log(peak_hz)).argmin()]
    if abs(nearest - np.log(peak_hz)) > STEP:
        peak_hz = float(np.exp(nearest))
    within = abs(peak_hz - shape.peak_hz) < _AS_SEEN * (shape.high_hz - shape.low_hz)
    return peak_hz if within else None


def _half_power(grid_hz: FloatArray, curve_db: FloatArray, near_hz: float) -> _Shape | None:
    """Shape of the hill that ``near_hz`` stands on.

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
    target = curve_db[top] - HALF_POWER_DB
    below = np.flatnonzero(curve_db < target)
    left, right = below[below < top], below[below > top]
    if left.size == 0 or right.size == 0:
        return None

    def crossing(index: int) -> float:
        part = (target - curve_db[index]) / (curve_db[index + 1] - curve_db[index])
        return float(grid_hz[index] + part * (grid_hz[index + 1] - grid_hz[index]))

    # a parabola through the three highest points: finer than the grid
    a, b, c = curve_db[top - 1 : top + 2]
    part = 0.5 * (a - c) / (a - 2.0 * b + c) if a - 2.0 * b + c < 0 else 0.0
    peak_hz = float(grid_hz[top] * (grid_hz[1] / grid_hz[0]) ** part)
    low_hz, high_hz = crossing(int(left[-1])), crossing(int(right[0]) - 1)
    return _Shape(peak_hz, low_hz, high_hz)


def _standard_error(
    fit: ResonanceFit, grid_hz: FloatArray, near_hz: float, shape: _Shape
) -> _Shape:
    """Give the standard errors of a fit's shape."""
    centre = np.array(shape)
    slopes = np.zeros((centre.size, fit.modes.size))
    errors = np.sqrt(np.maximum(np.diag(fit.covariance), 0.0))
    for index in range(fit.modes.size):
        # well within the uncertainty, so that the hill does not turn into another one
        step = min(0.2 * errors[index], 0.02)
        if step <= 0.0:
            continue
        moved = fit.modes.copy()
        moved[index] += step
        other = _half_power(grid_hz, rise_db(moved, grid_hz), near_hz)
        if other is not None:
            slopes[:, index] = (np.array(other) - centre) / step
    return _Shape(*np.sqrt(np.maximum(np.diag(slopes @ fit.covariance @ slopes.T), 0.0)))
