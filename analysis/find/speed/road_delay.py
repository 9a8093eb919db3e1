"""How late road speed is against an engine speed that the sound told.

In gear the two keep to a few fixed ratios. Rows that are late blur these: a climb of engine speed
meets the road speed of before, a fall that of a faster moment. The delay that draws the ratios
together into the fewest and narrowest heaps is the true one.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import SpeedTrack, told_at
from analysis.find.speed.telemetry_delay import best_delay, block_sums
from analysis.findings import TelemetryDelay

# judgement: who starts two recorders by hand is seconds late; a wider search finds other climbs
_LARGEST_OFFSET_S = 30.0
_STEP_S = 0.1  # judgement: receivers give a row a second, and the peak is laid between the steps
_MOST_FRAMES = 6000  # judgement: ten minutes of a moment each 0.1 s; more only take time
_LEAST_SHARE = 0.5  # judgement: of the moments, that must be known at a delay for it to count
_BIN = 0.005  # judgement: of the logarithm of the ratio, fine against _BLUR
# judgement: satellite receivers stray by 0.15 m/s, 1 to 2 % of the speed in a sweep. Half of it and
# half more moved the delay of 11 of 12 drives by less than 0.05 s
_BLUR = 0.02
_MOVES_M_S = 3.0  # judgement: slower, a receiver strays by more than 5 %, and the clutch slips
_NO_GEAR = 0.1  # judgement: moments with the clutch down; a third or thrice of it moves 0.01 s
# judgement: worse is no measurement. At a steady speed every delay fits, and it is seconds wide
_WIDEST_S = 1.0


def road_delay(
    telemetry: pd.DataFrame, track: SpeedTrack, duration_s: float
) -> TelemetryDelay | None:
    """Delay of the rows of road speed and its 95 % interval; None where many delays fit."""
    known = np.flatnonzero(np.isfinite(track.rpm))
    every = max(round(_STEP_S / track.step_s), known.size // _MOST_FRAMES, 1)
    time_s, rpm = track.time_s[known][::every], track.rpm[known][::every]
    steps = round(_LARGEST_OFFSET_S / _STEP_S)
    delays = _STEP_S * np.arange(-steps, steps + 1, dtype=np.float64)
    fits = [_fit(rpm, told_at(telemetry, "road_speed_m_s", time_s + delay)) for delay in delays]
    if not any(np.isfinite(fit).any() for fit in fits):
        return None
    delay = best_delay(delays, block_sums(time_s, fits), 0.5 * _STEP_S)
    is_inside = abs(delay.delay_s) < _LARGEST_OFFSET_S - _WIDEST_S
    return delay if is_inside and delay.ci95_s.high - delay.delay_s < _WIDEST_S else None


def _fit(rpm: FloatArray, road_speed_m_s: FloatArray) -> FloatArray:
    """Logarithm of how densely the ratios lie around that of each moment; NaN at a standstill.

    A delay at which too few moments are known gets NaN alone.
    """
    fit = np.full(rpm.size, np.nan)
    moving = road_speed_m_s > _MOVES_M_S
    if np.count_nonzero(moving) <= _LEAST_SHARE * rpm.size:
        return fit
    log_ratio = np.log(rpm[moving] / road_speed_m_s[moving])
    reach = round(4.0 * _BLUR / _BIN)  # a definition: a bell curve is nothing at four of its widths
    beyond = _BIN * (reach + 1)
    edges = np.arange(log_ratio.min() - beyond, log_ratio.max() + beyond + _BIN, _BIN)
    counts, _ = np.histogram(log_ratio, edges)
    bell = np.exp(-0.5 * (_BIN * np.arange(-reach, reach + 1) / _BLUR) ** 2)
    share = np.convolve(counts, bell / bell.sum(), mode="same") / (_BIN * log_ratio.size)
    at = np.interp(log_ratio, 0.5 * (edges[1:] + edges[:-1]), share)
    fit[moving] = np.log((1.0 - _NO_GEAR) * at + _NO_GEAR)
    return fit
