"""How long to wait before a lost device is opened again, and whether to tell about it once more."""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from collections.abc import Callable

_FIRST_S = 0.5
_LONGEST_S = 5.0  # judgement: a device plugged in again waits for this long at most


class Backoff:
    """Waits of 0.5 s, doubled up to 5 s; trouble is told at the first failure of a row only."""

    def __init__(
        self,
        *,
        clock: Callable[[], float] = time.perf_counter,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._clock = clock
        self._sleep = sleep
        self._wait_s = _FIRST_S
        self._due_s: float | None = None
        self._told = False

    def wait(self, timeout_s: float) -> bool:
        """Wait for at most ``timeout_s``; True when it is time to try."""
        left_s = 0.0 if self._due_s is None else self._due_s - self._clock()
        if left_s <= 0.0:
            return True
        self._sleep(min(left_s, timeout_s))
        return left_s <= timeout_s

    def fail(self) -> bool:
        """Note a failure; True when it is the first since :meth:`reset`."""
        self._due_s = self._clock() + self._wait_s
        self._wait_s = min(2.0 * self._wait_s, _LONGEST_S)
        told, self._told = self._told, True
        return not told

    def reset(self) -> None:
        """Note that a value came."""
        self._wait_s = _FIRST_S
        self._due_s = None
        self._told = False
