"""Which hills of each order's level are drones, by themselves or by a witness of another order."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.ndimage import median_filter

from analysis.basics.arrays import FloatArray
from analysis.basics.rows import rows
from analysis.find.bands.band_shape import BEYOND, Shaped
from analysis.find.bands.climbs import climbs
from analysis.find.bands.hill_fit import fit_hill, mode_of, tried
from analysis.find.bands.hill_shapes import agree, mean_of_others, shapes_of
from analysis.find.bands.hills import Hill, SeenLevel, cut_hills, hills, seen_level
from analysis.find.bands.level_curves import level_curve, strong_orders
from analysis.find.bands.own_level import chances
from analysis.find.bands.resonance_model import CurveData, ResonanceFit
from analysis.find.curves.order_points import (
    OrderPoints,
    comparable,
    pulled_away_rpm,
    swept_rpm,
)
from analysis.findings import Climb, DroneBand

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
_CUT_RISE_DB = 6.0  # of a hill cut off, and surely of the whole one that vouches for it
_HELPING_DB = 4.0  # a lower hill of another order says nothing of where a resonance lies
_BELOW_LOUDEST_DB = 15.0  # so far under the loudest order nobody hears another apart
_CLIMBS_BELOW_DB = 10.0  # nobody is told to drive on for the sake of a softer one
_PEAK_BINS = 5  # one loud bin is chance
_SILENCE_MS = 1e-30


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
        order: [Shaped.of(shape, levels[order], driven_hz[order]) for shape in found]
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
    curves: dict[float, CurveData], shaped: dict[float, list[Shaped]]
) -> dict[float, list[Shaped]]:
    """Keep the hills that are drones: sure by themselves, or by one of another order."""
    sure = {
        order: [each for each in found if _is_drone(each, curves[order], _ALONE)]
        for order, found in shaped.items()
    }
    drones = {}
    for order, found in shaped.items():
        others = _of_others(order, sure)
        least = [_WITNESSED if _witnesses(each.fit, others) else _ALONE for each in found]
        asked = zip(found, least, strict=True)
        drones[order] = _apart([each for each, of in asked if _is_drone(each, curves[order], of)])
    return drones


def _of_others(order: float, found: dict[float, list[Shaped]]) -> list[Shaped]:
    return [each for other, of_it in found.items() if other != order for each in of_it]


def _witnesses(fit: ResonanceFit, others: Sequence[Shaped]) -> list[Shaped]:
    """Those of ``others`` that may be of the same resonance."""
    return [each for each in others if agree(mode_of(fit), mode_of(each.fit))]


def _cut_off(
    order: float,
    data: CurveData,
    levels: dict[float, SeenLevel],
    driven_hz: FloatArray,
    others: Sequence[Shaped],
    own_share: FloatArray,
) -> list[Shaped]:
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
        shaped = Shaped.of((hill, fit_hill(data, hill, hint, chance)), levels[order], driven_hz)
        shape = shaped.shape
        driven = driven_hz[0] / BEYOND < shape.low_hz and shape.high_hz < driven_hz[1] * BEYOND
        if driven and _is_drone(shaped, data, _ALONE):
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


def _is_drone(shaped: Shaped, data: CurveData, least: _Least) -> bool:
    """Whether the hill is high, sure, and as wide as a resonance is."""
    hill = shaped.hill
    ratio = data.total_ms / data.background_ms.clip(_SILENCE_MS)
    clear = median_filter(ratio, _PEAK_BINS) > least.peak_ratio
    return bool(
        hill.prominence_db >= LEAST_RISE_DB
        and hill.surely_db >= least.sure_rise_db
        and hill.width >= _NARROWEST
        and not shaped.shape.is_trend
        and clear[np.abs(data.frequency_hz - hill.top_hz).argmin()]
    )


def _apart(shaped: Sequence[Shaped], stay: Sequence[Shaped] = ()) -> list[Shaped]:
    """Of bands that overlap only the highest: two peaks without a valley are one hill.

    Those that ``stay`` are kept in any case.
    """
    kept = list(stay)
    for each in sorted(shaped, key=lambda each: -each.hill.prominence_db):
        low_hz, high_hz = each.shape.low_hz, each.shape.high_hz
        if all(high_hz < one.shape.low_hz or low_hz > one.shape.high_hz for one in kept):
            kept.append(each)
    return kept
