"""Which readings of a printing board to keep: a line that lost a character may still be a number.

An engine has no time for a jump and back between two lines, so a reading waits for the next two,
and must lie near a line through them and those before it. Nor is a line fresh that comes together
with the next: a link that stalls brings what it held all at once, and only the last of it is new.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque
from collections.abc import Sequence
from itertools import combinations
from statistics import median

from logger.sources.contract import Reading
from logger.sources.rpm_watch import RpmWatch

# judgement: neighbours of a reading. Two after it, as two damaged ones may follow each other; with
# more the screen would lag. Farther off in time than this they say nothing of it.
_BEFORE, _AFTER = 4, 2
_NEAR_S = 1.5
_LEAST_NEIGHBOURS = 4  # for a line through them that one damaged one of them does not turn
# judgement: what a value may lie off that line: a part of it, so many times what its neighbours do,
# and the more the longer they are apart. Five spreads lose twice as many rows of free revs;
# half as much a second leaves out 0.4 % more rows of a bad line, and none more that are wrong.
_LEAST = {"rpm": 40.0, "road_speed_m_s": 1.0}
_OFF_PART = 0.01
_OFF_SPREADS = 7.0
_OFF_PER_S = {"rpm": 100.0, "road_speed_m_s": 1.0}
# judgement: what a value may stand out of both its neighbours where there are too few for a line.
# Twice as much would let pass what is off by a hundred at idle.
_STANDS_OUT = 0.02
_PER_S = {"rpm": 600.0, "road_speed_m_s": 4.0}


# judgement: a reading that is followed so much sooner than usual was held back on the way. Boards
# faster than the least pace are read several lines at a time anyway, late by no more than that.
_TOO_SOON = 0.25
_LEAST_PACE_S = 0.03
_LONGEST_BURST_S = 1.0  # judgement: what was held back comes faster than a board could print
_PACE_STEPS = 21  # judgement: enough for a median that a stall of a second does not move


class LineJudge:
    """Holds each reading of rpm and road speed until its neighbours have judged it."""

    def __init__(self) -> None:
        self._rpm_watch = RpmWatch(printed=True)
        self._before: dict[str, deque[Reading]] = {}
        self._waiting: dict[str, deque[Reading]] = {}
        self._steps_s: dict[str, deque[float]] = {}
        self._burst_since_s = 0.0
        self.held_back = 0  # readings in a row that were left out as old

    def believes(self, reading: Reading) -> bool:
        """Tell whether the engine could have got there since what was believed last."""
        return reading.quantity != "rpm" or self._rpm_watch.believes(reading.value, reading.reply_s)

    def pass_on(self, reading: Reading) -> tuple[Reading | None, bool]:
        """Take a reading and give one before it; also whether that one was left out."""
        if reading.quantity not in _LEAST:
            return reading, False
        waiting = self._waiting.setdefault(reading.quantity, deque())
        if waiting and self._was_held_back(waiting[-1], reading):
            self.held_back += 1
            waiting[-1] = reading
            return None, False
        self.held_back = 0
        waiting.append(reading)
        return self._judge(waiting) if len(waiting) > _AFTER else (None, False)

    def release(self, before_s: float) -> tuple[Reading | None, bool]:
        """Give a reading that was held since before this moment, as :meth:`pass_on` does."""
        for waiting in self._waiting.values():
            if waiting and waiting[0].reply_s < before_s:
                return self._judge(waiting)
        return None, False

    def _judge(self, waiting: deque[Reading]) -> tuple[Reading | None, bool]:
        reading = waiting.popleft()
        before = self._before.setdefault(reading.quantity, deque(maxlen=_BEFORE))
        if _is_damaged(before, reading, waiting):
            return None, True
        before.append(reading)
        return reading, False

    def _was_held_back(self, held: Reading, after: Reading) -> bool:
        steps_s = self._steps_s.setdefault(held.quantity, deque(maxlen=_PACE_STEPS))
        step_s = after.reply_s - held.reply_s
        pace_s = median(steps_s) if len(steps_s) == _PACE_STEPS else 0.0
        if pace_s < _LEAST_PACE_S or step_s >= _TOO_SOON * pace_s:
            steps_s.append(step_s)
            return False
        self._burst_since_s = self._burst_since_s if self.held_back else held.reply_s
        if after.reply_s - self._burst_since_s > _LONGEST_BURST_S:
            steps_s.clear()  # it prints faster now
        return True


def _is_damaged(before: Sequence[Reading], reading: Reading, after: Sequence[Reading]) -> bool:
    """Whether a value is none that an engine or a car can have between its neighbours."""
    near = [one for one in (*before, *after) if abs(one.reply_s - reading.reply_s) < _NEAR_S]
    if len(near) >= _LEAST_NEIGHBOURS and before and after:
        return _is_off_the_line(near, reading, after[0].reply_s - before[-1].reply_s)
    return bool(before and after) and _stands_out(before[-1], reading, after[0])


def _is_off_the_line(near: Sequence[Reading], reading: Reading, apart_s: float) -> bool:
    """Whether a value lies farther off the line through its neighbours than they do.

    The line is that of Theil and Sen, the median of all slopes (Sen 1968, from memory), which some
    damaged ones do not turn.
    """
    at_s = [one.reply_s - reading.reply_s for one in near]
    values = [one.value for one in near]
    pairs = combinations(range(len(near)), 2)
    slope = median((values[b] - values[a]) / max(at_s[b] - at_s[a], 1e-3) for a, b in pairs)
    level = median(value - slope * s for s, value in zip(at_s, values, strict=True))
    spread = median(abs(v - slope * s - level) for s, v in zip(at_s, values, strict=True))
    quantity = reading.quantity
    may = _LEAST[quantity] + _OFF_PART * abs(level) + _OFF_PER_S[quantity] * apart_s
    return abs(reading.value - level) > may + _OFF_SPREADS * spread


def _stands_out(before: Reading, middle: Reading, after: Reading) -> bool:
    """Whether a value lies outside its neighbours by more than an engine or a car can."""
    low, high = sorted((before.value, after.value))
    outside = max(middle.value - high, low - middle.value)
    apart_s = after.reply_s - before.reply_s
    quantity = middle.quantity
    return outside > _LEAST[quantity] + _STANDS_OUT * high + _PER_S[quantity] * apart_s
