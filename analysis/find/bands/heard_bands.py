"""The bands of a drive that a person would hear, with what each part of the drive shows of them.

Every order that crosses a resonance shows a band, down to some far below all else. Only an
order that is within 15 dB of the loudest order at its peak, and not far below the overall level,
is a drone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from analysis.drive import Engine
from analysis.find.bands.coasting import Cruise, coasting_view
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.lock import locked_to
from analysis.find.bands.resting_cylinders import may_be_resting
from analysis.find.bands.trouble import trouble_db
from analysis.find.bands.views import gear_views, load_views
from analysis.find.curves.order_curves import BinnedOrders
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, LockedTo, OverallCurve

# judgement: 15 dB under the rest nobody hears it apart; 20 % more moved nothing.
_BELOW_LOUDEST_ORDER_DB = 15.0
_BELOW_OVERALL_DB = 15.0


def heard_bands(
    points: Sequence[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    overall: OverallCurve,
    cruise: Cruise,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    """Audible bands, the most troubling first, each with its gears, loads and what it follows.

    ``points`` and ``fitted`` go order by order.
    """
    found = list(_by_gear_and_load(points, fitted, bins, level_offset_db))
    heard = audible_bands(found, points, overall, level_offset_db)
    told = [_with_coasting(band, cruise, level_offset_db) for band in heard]
    told = [_not_of_the_road(band, cruise.engine) for band in told]
    return tuple(sorted(told, key=lambda band: trouble_db(band, overall), reverse=True))


def _by_gear_and_load(
    points: Sequence[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    level_offset_db: float,
) -> Iterator[DroneBand]:
    for each, order in zip(points, fitted, strict=True):
        for band, shape in zip(order.bands, order.shapes, strict=True):
            views = gear_views(band, each, bins, shape)
            loads = load_views(band, each, bins, shape, level_offset_db)
            yield replace(band, locked_to=locked_to(views), by_gear=views, by_load=loads)


def _with_coasting(band: DroneBand, cruise: Cruise, level_offset_db: float) -> DroneBand:
    view = coasting_view(band, cruise, level_offset_db)
    if view is None:
        return band
    views = (*band.by_gear, view)
    return replace(band, by_gear=views, locked_to=locked_to(views))


def _not_of_the_road(band: DroneBand, engine: Engine | None) -> DroneBand:
    """Leave open what half of the cylinders at rest would make as well."""
    if band.locked_to is LockedTo.ROAD and may_be_resting(band, engine):
        return replace(band, locked_to=LockedTo.UNKNOWN)
    return band


def audible_bands(
    bands: Sequence[DroneBand],
    points: Sequence[OrderPoints],
    overall: OverallCurve,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    """Leave out bands that the loudest order or the whole noise drowns; loudest first."""

    def least_db(band: DroneBand) -> float:
        loudest_db = _loudest_order_db(band, points) + level_offset_db
        overall_db = float(np.interp(band.peak_rpm, overall.rpm, overall.level_z_db))
        return max(loudest_db - _BELOW_LOUDEST_ORDER_DB, overall_db - _BELOW_OVERALL_DB)

    heard = [band for band in bands if band.level_db > least_db(band)]
    return tuple(sorted(heard, key=lambda band: band.level_db, reverse=True))


def _loudest_order_db(band: DroneBand, points: Sequence[OrderPoints]) -> float:
    """Level of the loudest order around the band's peak, 10 lg of the mean square."""
    near = np.abs(points[0].rpm / band.peak_rpm - 1.0) < 0.03
    if not near.any():
        return -np.inf
    net = [float(np.mean(each.total_ms[near] - each.background_ms[near])) for each in points]
    return float(10.0 * np.log10(max(*net, 1e-20)))
