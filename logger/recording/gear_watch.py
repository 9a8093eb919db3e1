"""Gears while driving: engine turns for each metre of road, in heaps that each stand for a gear."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

# judgement: they only count gears for the advice on the screen. Wider heaps merge two gears,
# narrower ones split one.
_LEAST_SPEED_M_S = 3.0
_SAME_GEAR = 0.07  # natural logarithm: neighbouring gears lie at least three times as far apart
_STEADY = 0.03  # from one reading to the next; more is a clutch or a slow speedometer
_ENOUGH_READINGS = 8  # in a row, until a heap is believed to be a gear
_MOST_HEAPS = 16


@dataclass(slots=True, eq=False)
class _Heap:
    log_ratio: float
    readings: int = 0
    gear: int | None = None  # once it is believed


class GearWatch:
    """Numbers gears in the order in which they were first believed, from 0."""

    def __init__(self) -> None:
        self._heaps: list[_Heap] = []
        self._gears = 0
        self._before = math.nan

    def gear(self, rpm: float, road_speed_m_s: float | None) -> int | None:
        """Tell the gear of a reading; None when it is not known (yet)."""
        if road_speed_m_s is None or road_speed_m_s < _LEAST_SPEED_M_S or rpm <= 0.0:
            self._before = math.nan
            return None
        log_ratio = math.log(rpm / road_speed_m_s)
        is_steady = abs(log_ratio - self._before) < _STEADY
        self._before = log_ratio
        if not is_steady:
            return None
        heap = self._heap_for(log_ratio)
        if heap is None:
            return None
        heap.readings += 1
        heap.log_ratio += (log_ratio - heap.log_ratio) / min(heap.readings, 100)
        if heap.gear is None and heap.readings >= _ENOUGH_READINGS:
            heap.gear = self._gears
            self._gears += 1
        return heap.gear

    def _heap_for(self, log_ratio: float) -> _Heap | None:
        near = min(self._heaps, key=lambda each: abs(each.log_ratio - log_ratio), default=None)
        if near is not None and abs(near.log_ratio - log_ratio) < _SAME_GEAR:
            return near
        if len(self._heaps) >= _MOST_HEAPS:
            # slipping clutches and spinning wheels leave heaps to which nothing comes back
            self._heaps = [each for each in self._heaps if each.gear is not None]
            if len(self._heaps) >= _MOST_HEAPS:
                return None
        heap = _Heap(log_ratio=log_ratio)
        self._heaps.append(heap)
        return heap
