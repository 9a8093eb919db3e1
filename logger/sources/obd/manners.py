"""How to ask: whose turn it is, how short the question may be, and which answers come too late."""
# SPDX-License-Identifier: GPL-2.0-or-later

import statistics
from collections import Counter, deque

from logger.sources.obd.commands import RPM, Pid

# judgement: how the bus is shared, so that rpm comes often enough for sweeps; one in two would
# halve the points of a fast climb. What is late by more than the limits is not kept.
_RPM_OF_FOUR = 3  # three of four questions are for rpm: 75 %
_GIVE_UP_AFTER = 3
_PROVEN_AFTER = 10
_LATE_S = 0.3
_LATE_TIMES_USUAL = 3.0
_USELESS_S = 1.0


class Turns:
    """Three times rpm, then one of the others; one that the car never answers is left out."""

    def __init__(self, beside: tuple[Pid, ...]) -> None:
        self._beside = list(beside)
        self._count = 0
        self._empty: Counter[Pid] = Counter()

    def next_pid(self) -> Pid:
        """Give the next quantity to ask for."""
        rounds, place = divmod(self._count, _RPM_OF_FOUR + 1)
        self._count += 1
        if place < _RPM_OF_FOUR or not self._beside:
            return RPM
        return self._beside[rounds % len(self._beside)]

    def note_empty(self, pid: Pid) -> None:
        """Note that a quantity beside rpm had no value."""
        self._empty[pid] += 1
        if self._empty[pid] == _GIVE_UP_AFTER:
            self._beside.remove(pid)


class Shortcut:
    """Whether the question may say how many frames are awaited, which saves up to 0.2 s each.

    Some adapters and cars do not stand it. It is tried after the first value, and for ever left
    when it fails before it ever worked well.
    """

    def __init__(self) -> None:
        self.is_on = False
        self._may_try = True
        self._good_count = 0
        self._empty_row = 0

    def note(self, *, has_value: bool) -> None:
        """Note how a question for rpm was answered."""
        if has_value:
            self._good_count += self.is_on
            self._empty_row = 0
            self.is_on = self._may_try
        else:
            self._empty_row += 1
            if self._empty_row >= _GIVE_UP_AFTER:
                self.note_lost()

    def note_lost(self) -> None:
        """Note that the adapter went silent."""
        if self.is_on and self._good_count < _PROVEN_AFTER:
            self.is_on = self._may_try = False


class TripWatch:
    """Knows answers that took so long that nobody can say when they were measured."""

    def __init__(self) -> None:
        self._trips_s: deque[float] = deque(maxlen=31)

    def is_late(self, trip_s: float) -> bool:
        """Take note of the time from question to answer, and judge it."""
        usual_s = statistics.median(self._trips_s) if self._trips_s else trip_s
        self._trips_s.append(trip_s)
        return trip_s > _USELESS_S or trip_s > max(_LATE_S, _LATE_TIMES_USUAL * usual_s)
