"""From frames to curves: each order's mean square by pass and rpm bin."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.drive import BoolArray, FloatArray, IntArray
from analysis.driving_state import DrivingState
from analysis.order_points import OrderPoints
from analysis.order_tracking import HOP_S, ORDERS, REVOLUTIONS, OrderFrames
from analysis.rpm_bins import bin_of


@dataclass(frozen=True, slots=True, kw_only=True)
class BinnedOrders:
    """All orders, averaged over the frames of each pass in each rpm bin.

    Attributes
    ----------
    pass_index, rising, bin_index, rpm, seconds : ndarray [shape=(n_points,)]
    gear, road_speed_m_s, load_part : ndarray [shape=(n_points,)]
        Means of :class:`analysis.driving_state.DrivingState`; NaN where not known.
    total_ms, background_ms : ndarray [shape=(n_points, n_orders)]
    """

    pass_index: IntArray
    rising: BoolArray
    bin_index: IntArray
    rpm: FloatArray
    seconds: FloatArray
    gear: FloatArray
    road_speed_m_s: FloatArray
    load_part: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray

    def by_order(self) -> list[OrderPoints]:
        """Points of each of :data:`analysis.order_tracking.ORDERS`, ready for the fit."""
        window_s = REVOLUTIONS * 60.0 / self.rpm
        return [
            OrderPoints(
                engine_order=float(order),
                pass_index=self.pass_index,
                bin_index=self.bin_index,
                rpm=self.rpm,
                seconds=self.seconds,
                total_ms=self.total_ms[:, column],
                background_ms=self.background_ms[:, column],
                window_s=window_s,
            )
            for column, order in enumerate(ORDERS)
        ]


def binned(frames: OrderFrames, pass_index: IntArray, state: DrivingState) -> BinnedOrders:
    """Average the frames of each (pass, rpm bin) pair."""
    bins = bin_of(frames.rpm)
    lowest, stride = (int(bins.min()), int(np.ptp(bins)) + 1) if bins.size else (0, 1)
    key = pass_index * stride + (bins - lowest)
    keys, where, count = np.unique(key, return_inverse=True, return_counts=True)
    pairs = np.stack([keys // stride, keys % stride + lowest], axis=1)

    def mean(values: NDArray[np.floating]) -> FloatArray:
        flat = values.reshape(values.shape[0], -1)
        means = np.empty((count.size, flat.shape[1]))
        for column in range(flat.shape[1]):
            means[:, column] = np.bincount(where, weights=flat[:, column]) / count
        return means.reshape(count.size, *values.shape[1:])

    return BinnedOrders(
        pass_index=pairs[:, 0],
        rising=rising_passes(pass_index, frames.rpm)[pairs[:, 0]],
        bin_index=pairs[:, 1],
        rpm=mean(frames.rpm),
        seconds=HOP_S * count.astype(np.float64),
        gear=mean(state.gear),
        road_speed_m_s=mean(state.road_speed_m_s),
        load_part=mean(state.load_part),
        total_ms=mean(frames.total_ms),
        background_ms=mean(frames.background_ms),
    )


def rising_passes(pass_index: IntArray, rpm: FloatArray) -> BoolArray:
    """Whether engine speed is higher at the end of each pass than at its start [shape=(n,)].

    ``pass_index``, ``rpm`` [shape=(n_frames,)] in the order of time; a number that no frame has
    counts as not rising.
    """
    rising = np.zeros(int(pass_index.max(initial=-1)) + 1, dtype=np.bool_)
    numbers, first = np.unique(pass_index, return_index=True)
    _, from_end = np.unique(pass_index[::-1], return_index=True)
    rising[numbers] = rpm[pass_index.size - 1 - from_end] > rpm[first]
    return rising
