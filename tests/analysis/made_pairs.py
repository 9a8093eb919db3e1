"""Drives with a drone of order 3, made so that the change between two of them is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.findings import DroneBand, Findings, OrderCurve
from tests.analysis.made_findings import drone_ms, grid, make_band, make_curve, make_findings

RPM = grid()
PEAK = 2240.0
BAND = make_band(3.0, PEAK)
BEFORE_MS = drone_ms(RPM, PEAK)


def drive(
    order_ms: FloatArray,
    bands: tuple[DroneBand, ...] = (),
    *,
    rpm: FloatArray = RPM,
    passes: int = 3,
    background_ms: float = 1e-7,
    seed: int = 1,
    pass_spread_db: float = 0.5,
    other_orders_db: float = 0.0,
    order_6_ms: FloatArray | None = None,
) -> Findings:
    """Order 3 as given, and four orders that no exhaust work touches, but for order 6 if given."""
    rng = np.random.default_rng(seed)

    def curve(order: float, values: FloatArray) -> OrderCurve:
        return make_curve(
            order,
            values,
            rpm,
            passes=passes,
            background_ms=background_ms,
            pass_spread_db=pass_spread_db,
            frames_per_bin=4,
            rng=rng,
        )

    plain = np.full(rpm.size, 1e-5 * 10.0 ** (other_orders_db / 10.0))
    sixth = plain if order_6_ms is None else order_6_ms
    others = [curve(order, sixth if order == 6.0 else plain) for order in (1.5, 4.5, 6.0, 7.5)]
    return make_findings([curve(3.0, order_ms), *others], bands)


def changed(decibels: float) -> FloatArray:
    return np.asarray(BEFORE_MS * 10.0 ** (decibels / 10.0))
