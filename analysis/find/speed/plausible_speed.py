"""How plausible an engine speed is: by what engines do, and by what a person or a log knows."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.drive import SpeedHints
from analysis.find.speed.speed_path import HeardPath

# judgement: all of these, as natural logarithms of odds. A drive is made at 1,100 to 4,800 rpm in
# its middle (95 %); engines idle above 600 rpm, rev to 6,800, and nobody looks for drone below
# 1,600 rpm alone.
_MIDDLE_RPM, _MIDDLE_SPREAD = 2300.0, 0.5
_LOWEST_RPM, _LOWEST_SPREAD = 600.0, 0.1
_HIGHEST_RPM, _HIGHEST_SPREAD = 6800.0, 0.07
_SLOWEST_RPM, _SLOWEST_SPREAD = 1600.0, 0.15
# judgement: what people read off a needle, and an engine that is not yet warm
_READ_OFF, _NEAR_S = 0.06, 1.0
_IDLE = 0.12
_BELOW_IDLE = 0.8  # no engine in gear runs for long below this part of its idle
_AGAINST = -30.0  # what somebody knows to be otherwise
# judgement: standing still the engine idles, at 500 to 1,200 rpm
_STANDS_M_S, _STAND_RPM, _STAND_SPREAD = 0.5, 800.0, 0.22
_MOVES_M_S = 8.0
# judgement: lowest engine speed per road speed in a drive: 1,400 to 4,500 rpm at 100 km/h (90 %)
_PER_M_S, _PER_M_S_SPREAD = 2500.0 / (100.0 / 3.6), 0.35
_LEAST_FRAMES = 10  # judgement: a second; less proves nothing


def log_plausibility(path: HeardPath, telemetry: pd.DataFrame, hints: SpeedHints) -> float:
    """Natural logarithm of the odds for the sure part of a path, up to a constant."""
    time_s, rpm = path.time_s[path.is_sure], path.rpm[path.is_sure]
    if rpm.size == 0:
        return _AGAINST
    return _of_range(rpm) + _of_hints(time_s, rpm, hints) + _of_road_speed(time_s, rpm, telemetry)


def rpm_near(path: HeardPath, at_s: float) -> float | None:
    """Engine speed where it is sure nearest to a moment; None where it is sure nowhere near."""
    return _near(path.time_s[path.is_sure], path.rpm[path.is_sure], at_s)


def _near(time_s: FloatArray, rpm: FloatArray, at_s: float) -> float | None:
    near = np.flatnonzero(np.abs(time_s - at_s) < _NEAR_S)
    if near.size == 0:
        return None
    return float(rpm[near[np.abs(time_s[near] - at_s).argmin()]])


def _of_range(rpm: FloatArray) -> float:
    low, middle, high = np.quantile(rpm, [0.03, 0.5, 0.98])
    odds = -0.5 * (np.log(middle / _MIDDLE_RPM) / _MIDDLE_SPREAD) ** 2
    odds -= max(0.0, np.log(_LOWEST_RPM / low) / _LOWEST_SPREAD)
    odds -= max(0.0, np.log(high / _HIGHEST_RPM) / _HIGHEST_SPREAD)
    odds -= max(0.0, np.log(_SLOWEST_RPM / high) / _SLOWEST_SPREAD)
    return float(odds)


def _of_hints(time_s: FloatArray, rpm: FloatArray, hints: SpeedHints) -> float:
    odds = 0.0
    for at_s, known_rpm in hints.rpm_at:
        heard_rpm = _near(time_s, rpm, at_s)
        if heard_rpm is not None:
            off = float(np.log(heard_rpm / known_rpm))
            odds += max(_AGAINST, -0.5 * (off / _READ_OFF) ** 2)
    if hints.idle_rpm is not None:
        low = float(np.quantile(rpm, 0.03))
        if low < _BELOW_IDLE * hints.idle_rpm:
            odds += _AGAINST
        elif low < (2.0 - _BELOW_IDLE) * hints.idle_rpm:
            # it comes down to the idle that was told: how near tells how right it is
            odds += -0.5 * (np.log(low / hints.idle_rpm) / _IDLE) ** 2 + _bonus(_IDLE)
    return float(odds)


def _bonus(spread: float) -> float:
    """Give what a match within the spread is worth against any value within a factor of e."""
    return float(-np.log(spread * np.sqrt(2.0 * np.pi)))


def _of_road_speed(time_s: FloatArray, rpm: FloatArray, telemetry: pd.DataFrame) -> float:
    if "road_speed_m_s" not in telemetry.columns:
        return 0.0
    stamps_s, told_m_s = (
        telemetry[column].to_numpy(dtype=np.float64) for column in ("time_s", "road_speed_m_s")
    )
    is_told = np.isfinite(stamps_s) & np.isfinite(told_m_s)
    if np.count_nonzero(is_told) < _LEAST_FRAMES:
        return 0.0
    speed_m_s = np.interp(time_s, stamps_s[is_told], told_m_s[is_told], np.nan, np.nan)
    odds = 0.0
    stands, moves = rpm[speed_m_s < _STANDS_M_S], speed_m_s > _MOVES_M_S
    if stands.size >= _LEAST_FRAMES:
        odds -= 0.5 * (np.log(np.median(stands) / _STAND_RPM) / _STAND_SPREAD) ** 2
    if np.count_nonzero(moves) >= _LEAST_FRAMES:
        lowest = float(np.quantile(rpm[moves] / speed_m_s[moves], 0.1))
        odds -= 0.5 * (np.log(lowest / _PER_M_S) / _PER_M_S_SPREAD) ** 2
        odds += _of_gears(rpm[moves] / speed_m_s[moves])
    return float(max(odds, _AGAINST))


def _of_gears(turns_per_metre: FloatArray) -> float:
    """In gear the engine turns in step with the road: a reading that jumps does not."""
    edges = np.arange(np.log(turns_per_metre.min()), np.log(turns_per_metre.max()) + 0.06, 0.03)
    counts, _ = np.histogram(np.log(turns_per_metre), edges)
    # share of the time that the six fullest places hold: as many as there are gears
    return float(np.log(max(0.05, np.sort(counts)[-6:].sum() / turns_per_metre.size)))
