"""What all sources have in common that print lines: a port that is opened when first read."""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from abc import ABC, abstractmethod

from logger.sources.contract import Reading, SourceTrouble
from logger.sources.lines.line_doubts import LineDoubts
from logger.sources.lines.line_port import Line, LinePort


class LineSource(ABC):
    """Reads a serial port or ``socket://host:port`` line by line; each kind understands its own."""

    def __init__(self, name: str, port: LinePort, doubts: LineDoubts) -> None:
        self.name = name
        self._port = port
        self._doubts = doubts
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

    def _begin(self) -> None:
        """Take note that the port is about to be opened."""
        self._doubts.note_alive()

    @abstractmethod
    def _understand(self, line: Line) -> Reading | SourceTrouble | None:
        """Give what a line says; None to go on with the next."""

    @abstractmethod
    def _nothing(self) -> SourceTrouble | None:
        """Tell what it means that no line came, when there is something to tell."""
