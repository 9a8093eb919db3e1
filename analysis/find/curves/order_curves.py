"""From frames to curves: each order's mean square by pass and rpm bin."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.find.curves.driven import Driven
from analysis.find.curves.order_points import OrderPoints
from analysis.find.curves.pass_bins import by_pass_and_bin
from analysis.find.sound.order_tracking import HOP_S, ORDERS, REVOLUTIONS, OrderFrames


@dataclass(frozen=True, slots=True, kw_only=True)
class BinnedOrders:
    """All orders, averaged over the frames of each pass in each rpm bin.

    Attributes
    ----------
    pass_index, rising, bin_index, rpm, seconds : ndarray [shape=(n_points,)]
    gear, road_speed_m_s, load_part : ndarray [shape=(n_points,)]
        Means of :class:`analysis.find.curves.driven.Driven`; NaN where not known.
    orders : ndarray [shape=(n_orders,)]
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
    orders: FloatArray
    total_ms: FloatArray
    background_ms: FloatArray

    def by_order(self) -> list[OrderPoints]:
        """Points of each order, ready for the fit."""
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
            for column, order in enumerate(self.orders)
        ]


def binned(frames: OrderFrames, driven: Driven, orders: FloatArray = ORDERS) -> BinnedOrders:
    """Average the frames of each (pass, rpm bin) pair; ``driven`` at the moments of ``frames``."""
    bins = by_pass_and_bin(driven.pass_index, frames.rpm)
    return BinnedOrders(
        pass_index=bins.pass_index,
        rising=rising_passes(driven.pass_index, frames.rpm)[bins.pass_index],
        bin_index=bins.bin_index,
        rpm=bins.mean(frames.rpm),
        seconds=HOP_S * bins.count.astype(np.float64),
        gear=bins.mean(driven.gear),
        road_speed_m_s=bins.mean(driven.road_speed_m_s),
        load_part=bins.mean(driven.load_part),
        orders=orders,
        total_ms=bins.mean(frames.total_ms),
        background_ms=bins.mean(frames.background_ms),
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
