"""When to tell that lines make no sense, or that none comes: not at the first, and once each."""
# SPDX-License-Identifier: GPL-2.0-or-later

import time

from logger.sources.contract import SourceTrouble

_TELL_GARBAGE_AFTER = 5  # a line is damaged now and then; judgement: only when it is told


class LineDoubts:
    """Counts what was good and bad on a line.

    Parameters
    ----------
    name : str
        What the source is called in troubles.
    silent_s : float
        After so long without anything good it is told.
    """

    def __init__(self, name: str, *, silent_s: float) -> None:
        self._name = name
        self._silent_s = silent_s
        self._garbage_count = 0
        self._told_garbage = False
        self._told_silence = False
        self._heard_s = time.perf_counter()

    def note_alive(self) -> None:
        """Note that the port was opened, or that something came: silence counts from now on."""
        self._heard_s = time.perf_counter()

    def note_good(self, now_s: float) -> None:
        """Note something that makes sense."""
        self._garbage_count = max(0, self._garbage_count - 1)
        self._told_garbage = self._told_garbage and self._garbage_count > 0
        self._heard_s, self._told_silence = now_s, False

    def garbage(self, what: str, cure: str) -> SourceTrouble | None:
        """Note something that makes no sense."""
        self._garbage_count = min(self._garbage_count + 1, _TELL_GARBAGE_AFTER)
        if self._told_garbage or self._garbage_count < _TELL_GARBAGE_AFTER:
            return None
        self._told_garbage = True
        return SourceTrouble(
            code="telemetry_garbled",
            message=f"{self._name} sent {what}; {cure}",
            at_s=time.perf_counter(),
        )

    def silence(self, what: str) -> SourceTrouble | None:
        """Note that nothing came for now; it is told when that lasts."""
        is_silent = time.perf_counter() - self._heard_s > self._silent_s
        if not is_silent or self._told_silence or self._told_garbage:
            return None
        self._told_silence = True
        return SourceTrouble(
            code="telemetry_silent", message=f"{self._name} {what}", at_s=self._heard_s
        )
