"""Notice that the laptop slept, that the program stood still, or that the wall clock was set.

Which clock goes on while a laptop sleeps differs: on Linux and macOS :func:`time.perf_counter`
stands still and a second clock goes on; on Windows it goes on itself, so sleep looks like a program
that stood still.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

_SLEPT_S = 2.0
# judgement: less is a busy computer; it is only told, nothing is changed.
_STOOD_STILL_S = 5.0
_CLOCK_SET_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clocks:
    """The three clocks of a computer, read at the same moment, in seconds."""

    perf_s: float
    awake_or_asleep_s: float
    wall_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockTrouble:
    """What happened since ``from_perf_s``; ``duration_s`` is None for a clock that was set."""

    code: str
    message: str
    from_perf_s: float
    duration_s: float | None


def read_clocks() -> Clocks:
    """Read this computer's clocks."""
    return Clocks(
        perf_s=time.perf_counter(), awake_or_asleep_s=_awake_or_asleep_s(), wall_s=time.time()
    )


def _awake_or_asleep_s() -> float:
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.perf_counter()


class ClockWatch:
    """Ask it about once a second."""

    def __init__(self, read: Callable[[], Clocks]) -> None:
        self._read = read
        self._last = read()

    def look(self) -> ClockTrouble | None:
        """Tell what happened to the clocks since the last look; None when nothing did."""
        before, now = self._last, self._read()
        self._last = now
        running_s = now.perf_s - before.perf_s
        asleep_s = now.awake_or_asleep_s - before.awake_or_asleep_s - running_s
        # against the clock that goes on in sleep, or every sleep would look like a clock that was
        # set
        set_s = (now.wall_s - before.wall_s) - (now.awake_or_asleep_s - before.awake_or_asleep_s)
        if asleep_s > _SLEPT_S:
            lasted_s: float | None = asleep_s
            code = "laptop_slept"
            message = f"the laptop slept for {asleep_s:.0f} s; switch sleep off for the drive"
        elif running_s > _STOOD_STILL_S:
            lasted_s, code = running_s, "stood_still"
            message = (
                f"the laptop slept or was too busy for {running_s:.0f} s; close other programs and "
                "switch sleep off for the drive"
            )
        elif abs(set_s) > _CLOCK_SET_S:
            lasted_s, code = None, "wall_clock_changed"
            message = (
                f"the computer's date and time were changed by {set_s:+.0f} s; the recording keeps "
                "its own clock and is not affected"
            )
        else:
            return None
        return ClockTrouble(
            code=code, message=message, from_perf_s=before.perf_s, duration_s=lasted_s
        )
