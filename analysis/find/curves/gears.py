"""Gears told apart by the ratio of engine speed to road speed."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.findings import STANDING

# judgement: gears lie 25 % apart or more, so heaps 2 % wide part them even with a speedometer that
# counts whole km/h; wider ones merge two gears, and then what a drone follows is not told.
_LEAST_SPEED_M_S = 3.0
_STANDING_M_S = 0.4  # road speed comes in steps of 1 km/h
_BIN = 0.02  # of the natural logarithm of the ratio
_LEAST_SHARE = 0.03
_REACH = 0.06  # a frame this far (log) from a gear's ratio still belongs to it


def gear_of(rpm: FloatArray, road_speed_m_s: FloatArray) -> FloatArray:
    """Gear of each frame, 0 for the lowest gear seen; all arrays [shape=(n_frames,)].

    A gear is a ratio of engine speed to road speed that the drive comes back to: a peak of the
    histogram of the ratio that holds at least 3 % of the moving time.
    :data:`analysis.findings.STANDING` where the car stood still, NaN where nothing can be told.
    """
    gear = np.full(rpm.size, np.nan)
    gear[np.abs(road_speed_m_s) < _STANDING_M_S] = STANDING
    moving = np.isfinite(road_speed_m_s) & (road_speed_m_s > _LEAST_SPEED_M_S) & (rpm > 0)
    if not moving.any():
        return gear
    log_ratio = np.log(rpm[moving] / road_speed_m_s[moving])
    centres = _common_ratios(log_ratio)
    if centres.size == 0:
        return gear
    distance = np.abs(log_ratio[:, np.newaxis] - centres[np.newaxis, :])
    nearest = distance.argmin(axis=1)
    gear[moving] = np.where(distance.min(axis=1) < _REACH, nearest, np.nan)
    return gear


def gear_ratios(gear: FloatArray, rpm: FloatArray, road_speed_m_s: FloatArray) -> tuple[float, ...]:
    """Engine rpm for 1 m/s of road speed in each gear that :func:`gear_of` told.

    All arrays [shape=(n,)].
    """
    told = range(int(np.nanmax(gear, initial=STANDING)) + 1) if np.isfinite(gear).any() else ()
    return tuple(
        float(np.median(rpm[gear == number] / road_speed_m_s[gear == number])) for number in told
    )


def _common_ratios(log_ratio: FloatArray) -> FloatArray:
    """Logarithms of the ratios the drive comes back to, lowest gear (highest ratio) first."""
    # some bins more on both sides, so that a peak at the end has neighbours to be higher than
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
