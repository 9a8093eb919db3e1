"""Points of an order made by hand, with what a test leaves out filled in."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.find.curves.order_points import OrderPoints


def made_points(
    engine_order: float,
    pass_index: IntArray,
    bin_index: IntArray,
    total_ms: FloatArray,
    background_ms: FloatArray,
    *,
    rpm: FloatArray | None = None,
    rising: BoolArray | None = None,
    seconds: float = 0.3,
    window_s: float = 0.4,
) -> OrderPoints:
    """All arrays [shape=(n_points,)]; what the car did is not known."""
    unknown = np.full(pass_index.size, np.nan)
    return OrderPoints(
        engine_order=engine_order,
        pass_index=pass_index,
        rising=np.ones(pass_index.size, dtype=np.bool_) if rising is None else rising,
        bin_index=bin_index,
        rpm=bin_centre_rpm(bin_index) if rpm is None else rpm,
        total_ms=total_ms,
        background_ms=background_ms,
        seconds=np.full(pass_index.size, seconds),
        gear=unknown,
        load_part=unknown,
        road_speed_m_s=unknown,
        window_s=np.full(pass_index.size, window_s),
    )
