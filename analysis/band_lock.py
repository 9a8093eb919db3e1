"""Tell whether a band keeps step with the engine or with the road.

A band found in the whole drive is looked for again gear by gear. If it stands at the same engine
speed in two gears or more, the engine makes it. If it stands in one gear and is gone from
another that drove through the same engine speeds, it belonged to a road speed. With one gear
the two cannot be told apart (common practice, no source).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.drive import FloatArray
from analysis.findings import DroneBand, LockedTo
from analysis.order_points import OrderPoints
from analysis.resonance_model import ResonanceFit

_LEAST_POINTS = 6
_LEAST_COVERAGE = 0.7  # of the band's bins, and some of the ground beside it
_PRESENT, _ABSENT = 0.75, 0.35  # share of the fitted rise (in dB) that a gear shows


def locked_to(
    band: DroneBand, points: OrderPoints, gear: FloatArray, fit: ResonanceFit
) -> LockedTo:
    """Compare how much of the band's rise each gear shows; ``gear`` [shape=(n_points,)]."""
    shares = [
        share
        for number in np.unique(gear[np.isfinite(gear)])
        if (share := _share_of_rise(band, points, gear == number, fit)) is not None
    ]
    if len(shares) < 2:
        return LockedTo.UNKNOWN
    if sum(share >= _PRESENT for share in shares) >= 2 and min(shares) > _ABSENT:
        return LockedTo.ENGINE
    if max(shares) >= _PRESENT and min(shares) < _ABSENT:
        return LockedTo.ROAD
    return LockedTo.UNKNOWN


def _share_of_rise(
    band: DroneBand, points: OrderPoints, chosen: np.ndarray, fit: ResonanceFit
) -> float | None:
    """Slope of the gear's measured rise on the fitted rise; None when it covers too little."""
    width = band.high_rpm - band.low_rpm
    chosen = chosen & (points.total_ms > 0.0)  # a drop-out that nobody listed is no level
    rpm = points.rpm[chosen]
    near = (rpm > band.low_rpm - 1.5 * width) & (rpm < band.high_rpm + 1.5 * width)
    rpm = rpm[near]
    inside = (rpm > band.low_rpm) & (rpm < band.high_rpm)
    bins_in_band = np.log(band.high_rpm / band.low_rpm) / np.log(1.01)
    seen = np.unique(points.bin_index[chosen][near][inside]).size
    if rpm.size < _LEAST_POINTS or seen < _LEAST_COVERAGE * bins_in_band or inside.all():
        return None
    total = points.total_ms[chosen][near]
    background = points.background_ms[chosen][near]
    frequency_hz = points.engine_order * rpm / 60.0
    net_db = 10.0 * np.log10(np.maximum(total - background, 0.05 * total))
    rise_db = fit.rise_db(frequency_hz)
    above_trend_db = net_db - fit.trend_db(frequency_hz)
    shape = rise_db - rise_db.mean()
    spread = float(np.dot(shape, shape))
    if spread < 1.0:
        return None
    return float(np.dot(shape, above_trend_db - above_trend_db.mean()) / spread)
