"""One order's points, and which of them can be laid over each other.

A level over engine speed means something only while the driver's foot does the same. At rest,
while pulling away, and at both ends of a sweep the load is another than within the sweep; its
level at those few speeds would look like an edge of a band.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.drive import FloatArray, IntArray
from analysis.passes import sweeps

_MOSTLY = 0.5  # of the rpm bins: a drive that would lose more keeps all
_PULLING_AWAY_RPM = 1500.0
_PASS_END = 0.025  # of engine speed
_BINS = 100_000  # more than there are rpm bins


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPoints:
    """One order's points as in :class:`analysis.findings.OrderCurve`, before any fit.

    ``window_s`` [shape=(n_points,)] is the length of the frames behind each point.
    """

    engine_order: float
    pass_index: IntArray
    bin_index: IntArray
    rpm: FloatArray
    seconds: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray
    window_s: FloatArray

    def only(self, chosen: NDArray[np.bool_]) -> OrderPoints:
        """Keep the chosen points; ``chosen`` [shape=(n_points,)]."""
        return OrderPoints(
            engine_order=self.engine_order,
            pass_index=self.pass_index[chosen],
            bin_index=self.bin_index[chosen],
            rpm=self.rpm[chosen],
            seconds=self.seconds[chosen],
            total_ms=self.total_ms[chosen],
            background_ms=self.background_ms[chosen],
            window_s=self.window_s[chosen],
        )


def swept_rpm(points: OrderPoints) -> FloatArray:
    """Lowest and highest engine speed of the sweeps, their ends included [shape=(2,)]."""
    swept = _unless_most_is_lost(points, sweeps(points.pass_index, points.rpm))
    if swept.rpm.size == 0:
        return np.zeros(2)
    return np.array([swept.rpm.min(), swept.rpm.max()])


def comparable(orders: Sequence[OrderPoints]) -> list[OrderPoints]:
    """Keep the points within sweeps, without the pulling away at the low end of the drive.

    All orders of a drive have the same points, and go on sharing what is the same of them.
    """
    if not orders:
        return []
    first = orders[0]
    swept = _unless_most_is_lost(first, sweeps(first.pass_index, first.rpm))
    inside = _unless_most_is_lost(swept, _inside_pass(swept))
    kept = _unless_most_is_lost(inside, ~_pulling_away(inside))
    if kept is first:
        return list(orders)
    wanted = np.stack([kept.pass_index, kept.bin_index])
    have = np.stack([first.pass_index, first.bin_index])
    chosen = np.isin(have[0] * _BINS + have[1], wanted[0] * _BINS + wanted[1])
    return [
        replace(
            kept,
            engine_order=each.engine_order,
            total_ms=each.total_ms[chosen],
            background_ms=each.background_ms[chosen],
        )
        for each in orders
    ]


def _unless_most_is_lost(points: OrderPoints, chosen: NDArray[np.bool_]) -> OrderPoints:
    left = np.unique(points.bin_index[chosen]).size
    if left < _MOSTLY * np.unique(points.bin_index).size:
        return points
    return points.only(chosen)


def _inside_pass(points: OrderPoints) -> NDArray[np.bool_]:
    """All but the ends of each pass, where the foot is still moving."""
    count = int(points.pass_index.max(initial=-1)) + 1
    low, high = np.full(count, np.inf), np.zeros(count)
    np.minimum.at(low, points.pass_index, points.rpm)
    np.maximum.at(high, points.pass_index, points.rpm)
    inside = points.rpm > (1.0 + _PASS_END) * low[points.pass_index]
    return np.asarray(inside & (points.rpm < high[points.pass_index] / (1.0 + _PASS_END)))


def _pulling_away(points: OrderPoints) -> NDArray[np.bool_]:
    """Low engine speeds, up to where a second pass joins the first."""
    index, where, passes = np.unique(points.bin_index, return_inverse=True, return_counts=True)
    joined = index[passes >= 2]
    low = points.rpm < _PULLING_AWAY_RPM
    if joined.size == 0:
        return np.zeros(points.rpm.size, dtype=np.bool_)
    return np.asarray(low & (index[where] < joined[0]))
