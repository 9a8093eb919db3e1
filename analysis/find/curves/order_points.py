"""One order's points, and which of them can be laid over each other.

A level over engine speed means something only while the driver's foot does the same. At rest and at
both ends of a sweep the load is another than within the sweep; its level at those few speeds would
look like an edge of a band.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.basics.numbered import numbered
from analysis.basics.rows import rows
from analysis.find.curves.passes import ends_of_pass, sweeps
from analysis.findings import PassCurve

_MOSTLY = 0.5  # of the rpm bins: a drive that would lose more keeps all
# judgement: the ends of a sweep are half of another load. 20 % more moves a drone at the end of
# what was driven by 0.06 % in peak and 1.1 dB in rise.
_PASS_END = 0.025
# judgement: clutch and wheels slip below it, so where one pass alone went there its load is another
_PULLING_AWAY_RPM = 1500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPoints(PassCurve):
    """One order's points, before any fit.

    ``road_speed_m_s`` [shape=(n_points,)] is NaN where not known, ``window_s`` [shape=(n_points,)]
    the length of the frames behind each point.
    """

    engine_order: float
    road_speed_m_s: FloatArray
    window_s: FloatArray


def swept_rpm(points: OrderPoints) -> FloatArray:
    """Lowest and highest engine speed of the sweeps, their ends included [shape=(2,)]."""
    chosen = _in_a_sweep(points)
    rpm = points.rpm if _most_is_lost(points, chosen) else points.rpm[chosen]
    return np.array([rpm.min(), rpm.max()]) if rpm.size else np.zeros(2)


def comparable(orders: Sequence[OrderPoints]) -> list[OrderPoints]:
    """Keep the points within sweeps.

    All orders of a drive have the same points, and go on sharing what is the same of them.
    """
    if not orders:
        return []
    points, kept = orders[0], np.arange(orders[0].rpm.size)
    for wanted in (_in_a_sweep, _inside_pass):
        chosen = wanted(points)
        if not _most_is_lost(points, chosen):
            points, kept = rows(points, chosen), kept[chosen]
    return [
        replace(
            points,
            engine_order=each.engine_order,
            total_ms=each.total_ms[kept],
            background_ms=each.background_ms[kept],
        )
        for each in orders
    ]


def pulled_away_rpm(points: OrderPoints) -> float:
    """Engine speed below which the car was only pulling away: no second pass goes there."""
    index, _, passes = numbered(points.bin_index)
    if (passes < 2).all():
        return 0.0
    joined = points.bin_index == index[passes >= 2][0]
    return min(_PULLING_AWAY_RPM, float(points.rpm[joined].min()))


def _most_is_lost(points: OrderPoints, chosen: NDArray[np.bool_]) -> bool:
    left = numbered(points.bin_index[chosen]).present.size
    return bool(left < _MOSTLY * numbered(points.bin_index).present.size)


def _in_a_sweep(points: OrderPoints) -> NDArray[np.bool_]:
    return sweeps(points.pass_index, points.rpm)


def _inside_pass(points: OrderPoints) -> NDArray[np.bool_]:
    """All but the ends of each pass, where the foot is still moving."""
    low, high = ends_of_pass(points.pass_index, points.rpm)
    inside = points.rpm > (1.0 + _PASS_END) * low
    return np.asarray(inside & (points.rpm < high / (1.0 + _PASS_END)))
