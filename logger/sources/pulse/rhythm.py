"""Follows one rhythm from edge to edge: awaits each pulse, allows for missing and extra ones."""
# SPDX-License-Identifier: GPL-2.0-or-later

import statistics
from collections import deque
from enum import Enum

# judgement: all of these. Wider gates let another lead's pulses in, narrower ones lose the rhythm
# when the throttle is snapped, and rpm has a gap.
_GATE = 0.25  # of the interval, to either side of where a pulse is awaited
_NARROW_GATE = 0.12  # before the rhythm is believed
_LOW_SHARE = 0.4  # of the usual height: another lead, or ringing
_MOST_MISSING = 4  # in a row
_LOOK_BACK = 16  # intervals
_MOST_ODD = 8  # extra and missing pulses in these
_MOST_ODD_AT_FIRST = 4
_FOLLOW, _FOLLOW_TREND = 0.5, 0.15  # share of each surprise
_MOST_TREND = 0.15  # change from one interval to the next


class Step(Enum):
    """What came of looking for the next pulse."""

    TAKEN = 1
    WAITING = 2  # not all edges are known yet
    LOST = 3


class Rhythm:
    """Where the last pulse was, and where the next ones are awaited.

    Attributes
    ----------
    frame : float
        Of the last pulse.
    interval : float
        Frames from one pulse to the next.
    height : float
        Usual height of the pulses.
    number : int
        Of the last pulse, when the first has 0.
    at : int
        Edges before this place in the list are done with.
    is_believed : bool
        Then more is allowed.
    """

    def __init__(self, *, frame: float, interval: float, height: float, at: int) -> None:
        self.frame = frame
        self.interval = interval
        self.height = height
        self.number = 1
        self.at = at
        self.is_believed = False
        self._trend = 0.0
        self._heights: deque[float] = deque([height], maxlen=_LOOK_BACK)
        self._had_extra = False
        self._odd: deque[int] = deque(maxlen=_LOOK_BACK)

    @property
    def low_share(self) -> float:
        """Share of the last pulses that are low beside the highest quarter of them."""
        high = sorted(self._heights)[-1 - len(self._heights) // 4]
        return sum(height < _LOW_SHARE * high for height in self._heights) / len(self._heights)

    def step(self, edges: list[tuple[float, float]], complete_to: float) -> Step:
        """Go on to the next pulse among edges of ``(frame, height)``."""
        gate = (_GATE if self.is_believed else _NARROW_GATE) * self.interval
        for ahead in range(1, _MOST_MISSING + 2):
            awaited = self.frame + ahead * self.interval + self._trend * ahead * (ahead + 1) / 2.0
            if complete_to < awaited + gate:
                return Step.WAITING
            found = self._nearest(edges, awaited, gate)
            if found is not None:
                extra = self._take(edges, found, ahead)
                return Step.LOST if self._is_too_odd(extra, ahead - 1) else Step.TAKEN
        return Step.LOST

    def _is_too_odd(self, extra: int, missing: int) -> bool:
        """Whether the count may be wrong: a pulse that came early looks like an extra one."""
        may_be_early = extra > 0 and (missing > 0 or self._had_extra)
        self._had_extra = extra > 0
        self._odd.append(extra + missing)
        limit = _MOST_ODD if self.is_believed else _MOST_ODD_AT_FIRST
        return may_be_early or sum(self._odd) > limit

    def _nearest(self, edges: list[tuple[float, float]], awaited: float, gate: float) -> int | None:
        found, distance = None, gate
        for at in range(self.at, len(edges)):
            frame, height = edges[at]
            if frame >= awaited + gate:
                break
            if abs(frame - awaited) < distance and height >= _LOW_SHARE * self.height:
                found, distance = at, abs(frame - awaited)
        return found

    def _take(self, edges: list[tuple[float, float]], found: int, ahead: int) -> int:
        """Go on to the edge that was found; give the number of others before it."""
        frame, height = edges[found]
        extra = sum(edges[at][1] >= _LOW_SHARE * self.height for at in range(self.at, found))
        surprise = (frame - self.frame) / ahead - self.interval - self._trend
        self.interval += self._trend + _FOLLOW * surprise
        limit = _MOST_TREND * self.interval
        self._trend = min(limit, max(-limit, self._trend + _FOLLOW_TREND * surprise))
        self.frame, self.number, self.at = frame, self.number + ahead, found + 1
        self._heights.append(height)
        self.height = statistics.median(self._heights)
        return extra
