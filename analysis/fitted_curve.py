"""An order's curve as others read it: the points, with the fit beside them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.drive import BoolArray
from analysis.drone_bands import FittedOrder
from analysis.findings import OrderCurve
from analysis.order_points import OrderPoints


def order_curve(points: OrderPoints, fitted: FittedOrder, rising: BoolArray) -> OrderCurve:
    """Lay the fit over all points, those it left out too; ``rising`` [shape=(n_points,)]."""
    frequency_hz = points.engine_order * points.rpm / 60.0
    unknown = np.full(points.rpm.size, np.nan)
    trend_db = unknown if fitted.fit is None else fitted.fit.trend_db(frequency_hz)
    rise_db = unknown if fitted.fit is None else fitted.fit.rise_db(frequency_hz)
    return OrderCurve(
        engine_order=points.engine_order,
        pass_index=points.pass_index,
        rising=rising,
        bin_index=points.bin_index,
        rpm=points.rpm,
        total_ms=points.total_ms,
        background_ms=points.background_ms,
        seconds=points.seconds,
        trend_db=trend_db,
        fitted_db=trend_db + rise_db,
    )
