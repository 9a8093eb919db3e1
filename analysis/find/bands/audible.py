"""Which bands a person would hear, worst first.

Every order that crosses a resonance shows a band, down to some far below all else. Only an
order that is within 15 dB of the loudest order at its peak, and not far below the overall level,
is a drone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import DroneBand, OverallCurve

_BELOW_LOUDEST_ORDER_DB = 15.0
_BELOW_OVERALL_DB = 15.0


def audible_bands(
    bands: Sequence[DroneBand],
    points: Sequence[OrderPoints],
    overall: OverallCurve,
    level_offset_db: float,
) -> tuple[DroneBand, ...]:
    """Bands that matter in the cabin, loudest first."""
    heard = [
        band
        for band in bands
        if band.level_db
        > _loudest_order_db(band, points) + level_offset_db - _BELOW_LOUDEST_ORDER_DB
        and band.level_db > _at(overall.rpm, overall.level_z_db, band.peak_rpm) - _BELOW_OVERALL_DB
    ]
    return tuple(sorted(heard, key=lambda band: band.level_db, reverse=True))


def _at(rpm: FloatArray, level_db: FloatArray, where_rpm: float) -> float:
    return float(np.interp(where_rpm, rpm, level_db))


def _loudest_order_db(band: DroneBand, points: Sequence[OrderPoints]) -> float:
    """Level of the loudest order around the band's peak, 10 lg of the mean square."""
    near = np.abs(points[0].rpm / band.peak_rpm - 1.0) < 0.03
    if not near.any():
        return -np.inf
    net = [float(np.mean(each.total_ms[near] - each.background_ms[near])) for each in points]
    return float(10.0 * np.log10(max(*net, 1e-20)))
