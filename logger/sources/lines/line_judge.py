"""Which readings of a printing board to keep: a line that lost a character may still be a number.

An engine has no time for a jump and back between two lines, so a reading waits for the next one.
Nor is a line fresh that comes together with the next: a link that stalls brings what it held all
at once, and only the last of it is new.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque
from statistics import median

from logger.sources.contract import Reading
from logger.sources.rpm_watch import RpmWatch

# judgement: what a value may stand out of both its neighbours: a part of it, and the more the
# longer they are apart. Twice as much would let pass what is off by a hundred at idle.
_STANDS_OUT = 0.02
_LEAST = {"rpm": 40.0, "road_speed_m_s": 1.0}
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
        self._before: dict[str, Reading] = {}
        self._held: dict[str, Reading] = {}
        self._steps_s: dict[str, deque[float]] = {}
        self._burst_since_s = 0.0
        self.held_back = 0  # readings in a row that were left out as old

    def believes(self, reading: Reading) -> bool:
        """Tell whether the engine could have got there since what was believed last."""
        return reading.quantity != "rpm" or self._rpm_watch.believes(reading.value, reading.reply_s)

    def pass_on(self, reading: Reading) -> tuple[Reading | None, bool]:
        """Take a reading and give the one before it; also whether that one was left out."""
        quantity = reading.quantity
        if quantity not in _LEAST:
            return reading, False
        held, before = self._held.get(quantity), self._before.get(quantity)
        self._held[quantity] = reading
        if held is None:
            return None, False
        if self._was_held_back(held, reading):
            self.held_back += 1
            return None, False
        self.held_back = 0
        if before is not None and _stands_out(before, held, reading):
            return None, True
        self._before[quantity] = held
        return held, False

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

    def release(self, before_s: float) -> Reading | None:
        """Give a reading that was held since before this moment: no neighbour came."""
        for quantity, held in self._held.items():
            if held.reply_s < before_s:
                self._before[quantity] = held
                return self._held.pop(quantity)
        return None


def _stands_out(before: Reading, middle: Reading, after: Reading) -> bool:
    """Whether a value lies outside its neighbours by more than an engine or a car can."""
    low, high = sorted((before.value, after.value))
    outside = max(middle.value - high, low - middle.value)
    apart_s = after.reply_s - before.reply_s
    quantity = middle.quantity
    return outside > _LEAST[quantity] + _STANDS_OUT * high + _PER_S[quantity] * apart_s
