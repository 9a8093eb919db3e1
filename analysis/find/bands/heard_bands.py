"""The bands of a drive with what each part of the drive shows of them, the most troubling first."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

from analysis.find.bands.coasting import Cruise, coasting_view
from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.bands.lock import locked_to, may_be_resting
from analysis.find.bands.resonance_model import ResonanceFit
from analysis.find.bands.trouble import trouble_db
from analysis.find.bands.views import gear_views, load_views
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, LockedTo, OverallCurve


def heard_bands(
    fitted: Sequence[FittedOrder], overall: OverallCurve, cruise: Cruise, level_offset_db: float
) -> tuple[DroneBand, ...]:
    """All bands, the most troubling first, each with its gears, loads and what it follows."""
    told = [
        _told(band, shape, order.points, cruise, level_offset_db)
        for order in fitted
        for band, shape in zip(order.bands, order.shapes, strict=True)
    ]
    return tuple(sorted(told, key=lambda band: trouble_db(band, overall), reverse=True))


def _told(
    band: DroneBand,
    shape: ResonanceFit,
    points: OrderPoints,
    cruise: Cruise,
    level_offset_db: float,
) -> DroneBand:
    loads = load_views(band, points, shape, level_offset_db)
    band = replace(band, by_gear=gear_views(band, points, shape), by_load=loads)
    if (coasting := coasting_view(band, cruise, level_offset_db)) is not None:
        band = replace(band, by_gear=(*band.by_gear, coasting))
    follows = locked_to(band.by_gear)
    # half of the cylinders at rest would show a band just as the road does
    if follows is LockedTo.ROAD and may_be_resting(band, cruise.engine):
        follows = LockedTo.UNKNOWN
    return replace(band, locked_to=follows)
