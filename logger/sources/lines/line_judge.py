"""Which readings of a printing board to keep: a line that lost a character may still be a number.

An engine has no time for a jump and back between two lines, so a reading waits for the next one.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from logger.sources.contract import Reading
from logger.sources.rpm_watch import RpmWatch

# judgement: what a value may stand out of both its neighbours: a part of it, and the more the
# longer they are apart. Twice as much would let pass what is off by a hundred at idle.
_STANDS_OUT = 0.02
_LEAST = {"rpm": 40.0, "road_speed_m_s": 1.0}
_PER_S = {"rpm": 600.0, "road_speed_m_s": 4.0}


class LineJudge:
    """Holds each reading of rpm and road speed until its neighbours have judged it."""

    def __init__(self) -> None:
        self._rpm_watch = RpmWatch(printed=True)
        self._before: dict[str, Reading] = {}
        self._held: dict[str, Reading] = {}

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
        if before is not None and _stands_out(before, held, reading):
            return None, True
        self._before[quantity] = held
        return held, False

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
