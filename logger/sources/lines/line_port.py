"""Lines from a serial port or ``socket://host:port`` that may be unplugged at any moment."""
# SPDX-License-Identifier: GPL-2.0-or-later

import time
from dataclasses import dataclass

import serial

from logger.sources.contract import SourceTrouble
from logger.sources.retry import Backoff
from logger.sources.serial_urls.protocol_timed import PORT_ERRORS


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    r"""One line without its end, stripped; ``at_s`` is :func:`time.perf_counter` when it was whole.

    What runs on without an end is cut where it is too long, and is a line too.
    """

    text: bytes
    at_s: float


class LinePort:
    """Opens the port when first read, and again after it was lost.

    Parameters
    ----------
    name : str
        What the source is called in troubles.
    port : str
    baud : int
    longest : int
        More bytes without an end of line are cut off.
    """

    def __init__(self, name: str, port: str, *, baud: int, longest: int) -> None:
        self.baud = baud
        self._name = name
        self._port_name = port
        self._longest = longest
        self._port: serial.Serial | None = None
        self._buffer = bytearray()
        self._skips_first = True
        self._backoff = Backoff()

    @property
    def is_open(self) -> bool:
        """Whether the port is there."""
        return self._port is not None

    def open(self, timeout_s: float) -> SourceTrouble | None:
        """Try to open the port, or wait until it is time to try again."""
        if not self._backoff.wait(timeout_s):
            return None
        try:
            port = serial.serial_for_url(self._port_name, self.baud, timeout=0.1, write_timeout=1.0)
        except PORT_ERRORS as error:
            return self._trouble(
                f"cannot open ({error}); plug it in, allow access to it (Linux: group dialout), "
                "or close what uses it"
            )
        self._port = port
        self._start_anew()
        return None

    def next_line(self, until_s: float) -> Line | SourceTrouble | None:
        """Give the next line; None when there is none until ``until_s``.

        The first line after opening is left out: it may have begun before.
        """
        while True:
            text = self._take_line()
            if text is not None:
                return Line(text=text, at_s=time.perf_counter())
            left_s = until_s - time.perf_counter()
            if left_s <= 0.0 or self._port is None:
                return None
            trouble = self._receive(self._port, left_s)
            if trouble is not None:
                return trouble

    def set_baud(self, baud: int) -> None:
        """Listen at another rate from now on, also after the port was lost."""
        self.baud = baud
        if self._port is None:
            return
        self._start_anew()
        try:
            self._port.baudrate = baud
        except PORT_ERRORS:  # it was pulled just now; opening it again tells
            self.close()

    def close(self) -> None:
        """Let the port go."""
        port, self._port = self._port, None
        if port is not None:
            port.close()

    def _start_anew(self) -> None:
        # what came before, or at another rate, is no beginning of a line
        self._buffer.clear()
        self._skips_first = True

    def _receive(self, port: serial.Serial, at_most_s: float) -> SourceTrouble | None:
        try:
            # the first byte is waited for, and no other: a line is stamped when its end is here
            port.timeout = min(0.2, at_most_s)
            data = port.read(max(1, min(port.in_waiting, 256)))
        except PORT_ERRORS as error:
            self.close()
            return self._trouble(f"lost ({error}); plug it in again")
        self._buffer += data
        if data:
            self._backoff.reset()
        return None

    def _take_line(self) -> bytes | None:
        while True:
            text, end, rest = bytes(self._buffer).partition(b"\n")
            if not end:
                break
            self._buffer[:] = rest
            if not self._skips_first:
                return text.strip()
            self._skips_first = False
        if len(self._buffer) <= self._longest:
            return None
        self._start_anew()
        return text

    def _trouble(self, what: str) -> SourceTrouble | None:
        if not self._backoff.fail():
            return None
        return SourceTrouble(
            code="telemetry_lost", message=f"{self._name} {what}", at_s=time.perf_counter()
        )
