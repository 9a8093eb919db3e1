"""From frames to curves: each order's mean square by pass and rpm bin."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.find.curves.driven import Driven
from analysis.find.curves.order_points import OrderPoints
from analysis.find.curves.pass_bins import by_pass_and_bin
from analysis.find.sound.order_tracking import HOP_S, ORDERS, REVOLUTIONS, OrderFrames


def binned(
    frames: OrderFrames, driven: Driven, orders: FloatArray = ORDERS, hop_s: float = HOP_S
) -> list[OrderPoints]:
    """Average the frames of each (pass, rpm bin) pair, order by order, ready for the fit.

    ``driven`` is told at the moments of ``frames``, which are ``hop_s`` apart. All orders share the
    arrays that are the same of them.
    """
    bins = by_pass_and_bin(driven.pass_index, frames.rpm)
    rising = _rising_passes(driven.pass_index, frames.rpm)[bins.pass_index]
    rpm, gear, road_speed_m_s, load_part = (
        bins.mean(each)
        for each in (frames.rpm, driven.gear, driven.road_speed_m_s, driven.load_part)
    )
    seconds, window_s = hop_s * bins.count.astype(np.float64), REVOLUTIONS * 60.0 / rpm
    total_ms, background_ms = bins.mean(frames.total_ms), bins.mean(frames.background_ms)
    return [
        OrderPoints(
            engine_order=float(order),
            pass_index=bins.pass_index,
            rising=rising,
            bin_index=bins.bin_index,
            rpm=rpm,
            seconds=seconds,
            gear=gear,
            road_speed_m_s=road_speed_m_s,
            load_part=load_part,
            total_ms=total_ms[:, column],
            background_ms=background_ms[:, column],
            window_s=window_s,
        )
        for column, order in enumerate(orders)
    ]


def _rising_passes(pass_index: IntArray, rpm: FloatArray) -> BoolArray:
    """Whether engine speed is higher at the end of each pass than at its start [shape=(n,)].

    ``pass_index``, ``rpm`` [shape=(n_frames,)] in the order of time; a number that no frame has
    counts as not rising.
    """
    rising = np.zeros(int(pass_index.max(initial=-1)) + 1, dtype=np.bool_)
    numbers, first = np.unique(pass_index, return_index=True)
    _, from_end = np.unique(pass_index[::-1], return_index=True)
    rising[numbers] = rpm[pass_index.size - 1 - from_end] > rpm[first]
    return rising
