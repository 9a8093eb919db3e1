"""The bands of a drive with what each part of the drive shows of them, the most troubling first."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import replace

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


def heard_bands(
    points: Sequence[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    overall: OverallCurve,
    cruise: Cruise,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    """All bands, the most troubling first, each with its gears, loads and what it follows.

    ``points`` and ``fitted`` go order by order.
    """
    found = _by_gear_and_load(points, fitted, bins, level_offset_db)
    told = [_with_coasting(band, cruise, level_offset_db) for band in found]
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
