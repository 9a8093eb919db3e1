"""The bands of a drive that a person would hear, with what each part of the drive shows of them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from analysis.find.bands.audible import audible_bands
from analysis.find.bands.coasting import Cruise, coasting_view
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.lock import locked_to
from analysis.find.bands.views import gear_views, load_views
from analysis.find.curves.order_curves import BinnedOrders
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, OverallCurve


def heard_bands(
    points: Sequence[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    overall: OverallCurve,
    cruise: Cruise,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    """Bands that matter in the cabin, loudest first; ``points`` and ``fitted`` order by order."""
    found = list(_by_gear_and_load(points, fitted, bins, level_offset_db))
    heard = audible_bands(found, points, overall, level_offset_db)
    return tuple(_with_coasting(band, cruise, level_offset_db) for band in heard)


def _by_gear_and_load(
    points: Sequence[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    level_offset_db: float,
) -> Iterator[DroneBand]:
    for each, order in zip(points, fitted, strict=True):
        if order.fit is None:
            continue
        for band in order.bands:
            views = gear_views(band, each, bins, order.fit)
            loads = load_views(band, each, bins, order.fit, level_offset_db)
            yield replace(band, locked_to=locked_to(views), by_gear=views, by_load=loads)


def _with_coasting(band: DroneBand, cruise: Cruise, level_offset_db: float) -> DroneBand:
    view = coasting_view(band, cruise, level_offset_db)
    if view is None:
        return band
    views = (*band.by_gear, view)
    return replace(band, by_gear=views, locked_to=locked_to(views))
