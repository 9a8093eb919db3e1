"""Gears told apart by the ratio of engine speed to road speed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.drive import FloatArray
from analysis.engine_speed import gaps_between

_LEAST_SPEED_M_S = 3.0
_BIN = 0.02  # of the natural logarithm of the ratio
_LEAST_SHARE = 0.03
_REACH = 0.06  # a frame this far (log) from a gear's ratio still belongs to it


def gear_of(
    frame_s: FloatArray, rpm: FloatArray, telemetry: pd.DataFrame, delay_s: float
) -> FloatArray:
    """Gear of each frame, 0 for the lowest gear seen; NaN where it cannot be told.

    A gear is a ratio of engine speed to road speed that the drive comes back to: a peak of the
    histogram of the ratio that holds at least 3 % of the moving time.
    """
    unknown = np.full(frame_s.size, np.nan)
    if "road_speed_m_s" not in telemetry.columns:
        return unknown
    rows = telemetry[["time_s", "road_speed_m_s"]].dropna()
    if len(rows) < 2:
        return unknown
    row_s = rows["time_s"].to_numpy(dtype=np.float64)
    at_s = frame_s + delay_s
    speed = np.interp(
        at_s, row_s, rows["road_speed_m_s"].to_numpy(dtype=np.float64), left=np.nan, right=np.nan
    )
    for start_s, end_s in gaps_between(row_s):
        speed[(at_s > start_s) & (at_s < end_s)] = np.nan
    moving = np.isfinite(speed) & (speed > _LEAST_SPEED_M_S) & (rpm > 0)
    if not moving.any():
        return unknown
    log_ratio = np.log(rpm[moving] / speed[moving])
    centres = _common_ratios(log_ratio)
    if centres.size == 0:
        return unknown
    distance = np.abs(log_ratio[:, np.newaxis] - centres[np.newaxis, :])
    nearest = distance.argmin(axis=1)
    gear = np.where(distance.min(axis=1) < _REACH, nearest, np.nan)
    unknown[moving] = gear
    return unknown


def _common_ratios(log_ratio: FloatArray) -> FloatArray:
    """Logarithms of the ratios the drive comes back to, lowest gear (highest ratio) first."""
    edges = np.arange(log_ratio.min() - 3 * _BIN, log_ratio.max() + 4 * _BIN, _BIN)
    counts, _ = np.histogram(log_ratio, edges)
    held = np.convolve(counts, np.ones(3), mode="same")  # each bin with its neighbours
    middle = 0.5 * (edges[1:] + edges[:-1])
    peaks = [
        index
        for index in range(1, held.size - 1)
        if held[index] >= _LEAST_SHARE * log_ratio.size
        and held[index] == held[max(0, index - 3) : index + 4].max()
    ]
    apart: list[int] = []
    for index in peaks:
        if not apart or index - apart[-1] > 3:
            apart.append(index)
    return middle[apart[::-1]]
