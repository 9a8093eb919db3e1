"""What all sources have in common that print lines: a port that is opened when first read.

It also knows when to tell that lines make no sense, or that none comes: not at the first, and once
each.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from abc import ABC, abstractmethod
from collections import deque

from logger.sources.contract import Reading, SourceTrouble
from logger.sources.lines.line_port import Line, LinePort
from logger.sources.port_word import port_and_baud

_TELL_GARBAGE_AFTER = 5  # a line is damaged now and then; judgement: only when it is told
# judgement: one damaged line of ten is told, on a line that is else in order; only what is told. At
# one of seven, a link that loses half of all lines and damages one a second was not.
_COUNTED_LINES, _MANY_DAMAGED = 40, 4
# judgement: where six of ten lines are damaged, so are many that look right; none is given then
_HOPELESS = 24


class LineSource(ABC):
    """Reads a serial port or ``socket://host:port`` line by line; each kind understands its own.

    Parameters
    ----------
    kind, rest : str
        The source's word: port, and the baud rate after ``@``.
    bauds : tuple of int
        Rates to try when the word gives none.
    longest : int
        More bytes without an end of line are cut off.
    silent_s : float
        After so long without anything good it is told.

    Raises
    ------
    SourceError
        What stands after ``@`` is no baud rate.
    """

    def __init__(
        self, kind: str, rest: str, *, bauds: tuple[int, ...], longest: int, silent_s: float
    ) -> None:
        self.name = f"{kind}:{rest}"
        port, baud = port_and_baud(self.name, rest)
        self._bauds = bauds if baud is None else (baud,)
        self._port = LinePort(self.name, port, baud=self._bauds[0], longest=longest)
        self._silent_s = silent_s
        self._garbage_count = 0
        self._told_garbage = False
        self._were_good: deque[bool] = deque(maxlen=_COUNTED_LINES)
        self._told_damage = False
        self._told_silence = False
        self._heard_s = time.perf_counter()
        self._closed = False

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Give the reading of the next line that holds one."""
        if self._closed:
            return None
        if not self._port.is_open:
            self._begin()
            return self._port.open(timeout_s)
        until_s = time.perf_counter() + timeout_s
        while True:
            line = self._port.next_line(until_s)
            if line is None:
                return self._nothing()
            if isinstance(line, SourceTrouble):
                return line
            event = self._understand(line)
            if event is not None:
                return event

    def close(self) -> None:
        """Close the port."""
        self._closed = True
        self._port.close()

    @abstractmethod
    def _understand(self, line: Line) -> Reading | SourceTrouble | None:
        """Give what a line says; None to go on with the next."""

    @abstractmethod
    def _nothing(self) -> Reading | SourceTrouble | None:
        """Tell what it means that no line came, or give a reading that waited for one."""

    def _begin(self) -> None:
        """Take note that the port is about to be opened."""
        self._note_alive()

    def _note_alive(self) -> None:
        """Note that there is something: silence counts from now on."""
        self._heard_s = time.perf_counter()

    def _note_good(self, now_s: float) -> None:
        """Note something that makes sense."""
        self._were_good.append(True)
        self._told_damage = self._told_damage and self._damaged_count > 1
        self._garbage_count = max(0, self._garbage_count - 1)
        self._told_garbage = self._told_garbage and self._garbage_count > 0
        self._heard_s, self._told_silence = now_s, False

    def _garbage(self, what: str, cure: str) -> SourceTrouble | None:
        """Note something that makes no sense."""
        self._were_good.append(False)
        self._garbage_count = min(self._garbage_count + 1, _TELL_GARBAGE_AFTER)
        if self._told_garbage or self._garbage_count < _TELL_GARBAGE_AFTER:
            return self._many_damaged(cure)
        self._told_garbage = True
        return self._trouble("telemetry_garbled", f"sent {what}; {cure}", time.perf_counter())

    def _damaged(self, cure: str) -> SourceTrouble | None:
        """Note a line that was left out, though it could be a reading."""
        self._were_good.append(False)
        return self._many_damaged(cure)

    def _many_damaged(self, cure: str) -> SourceTrouble | None:
        """Tell when lines are damaged again and again among good ones."""
        is_told = self._told_damage or self._told_garbage
        is_full = len(self._were_good) == _COUNTED_LINES
        if is_told or not is_full or self._damaged_count < _MANY_DAMAGED:
            return None
        self._told_damage = True
        what = f"left out {self._damaged_count} of its last {_COUNTED_LINES} lines as damaged"
        return self._trouble("telemetry_damaged", f"{what}; {cure}", time.perf_counter())

    @property
    def _is_hopeless(self) -> bool:
        """Whether so many lines are damaged that what looks right is not to be trusted."""
        return self._damaged_count >= _HOPELESS

    @property
    def _damaged_count(self) -> int:
        return self._were_good.count(False)

    def _silence(self, what: str) -> SourceTrouble | None:
        """Note that nothing came for now; it is told when that lasts."""
        is_silent = time.perf_counter() - self._heard_s > self._silent_s
        if not is_silent or self._told_silence or self._told_garbage:
            return None
        self._told_silence = True
        return self._trouble("telemetry_silent", what, self._heard_s)

    def _trouble(self, code: str, what: str, at_s: float) -> SourceTrouble:
        return SourceTrouble(code=code, message=f"{self.name} {what}", at_s=at_s)
