"""An order's curve as others read it: the points, with the fit beside them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.bands.drone_bands import FittedOrder
from analysis.find.curves.order_curves import BinnedOrders
from analysis.find.curves.order_points import OrderPoints
from analysis.findings import OrderCurve

_WIDENED = 1.03  # the ends of the sweeps, which the fit leaves out; judgement: the picture's ends


def order_curve(points: OrderPoints, fitted: FittedOrder, bins: BinnedOrders) -> OrderCurve:
    """Lay the fit over the points of ``bins`` within its range, which is a little widened."""
    trend_db = rise_db = np.full(points.rpm.size, np.nan)
    if (fit := fitted.fit) is not None:
        frequency_hz = points.engine_order * points.rpm / 60.0
        low_hz, high_hz = fit.reference_hz
        near = (frequency_hz > low_hz / _WIDENED) & (frequency_hz < high_hz * _WIDENED)
        trend_db = np.where(near, fit.trend_db(frequency_hz), np.nan)
        rise_db = fit.rise_db(frequency_hz)
    return OrderCurve(
        engine_order=points.engine_order,
        pass_index=points.pass_index,
        rising=bins.rising,
        bin_index=points.bin_index,
        rpm=points.rpm,
        total_ms=points.total_ms,
        background_ms=points.background_ms,
        seconds=points.seconds,
        gear=bins.gear,
        load_part=bins.load_part,
        trend_db=trend_db,
        fitted_db=trend_db + rise_db,
    )
