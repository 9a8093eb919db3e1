r"""``serial:PORT``: a small board that prints one reading a line.

A line is either a number alone, which is rpm (``2150``), or a quantity of
:data:`logger.sources.contract.QUANTITIES`, ``=`` and a number (``road_speed_m_s=27.5``); ASCII, a
decimal point, ended by ``\n`` or ``\r\n``, at 115200 baud. ``PORT@9600`` sets another rate.
Empty lines and lines that start with ``#`` are passed over. The board prints a reading as soon as
it has it: the time of the reading is the time its line ended.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import re
import time

import serial

from logger.sources.contract import QUANTITIES, Reading, SourceError, SourceTrouble
from logger.sources.plausible import RpmWatch, is_in_range
from logger.sources.ports.errors import PORT_ERRORS
from logger.sources.retry import Backoff

_BAUD = 115_200
_LONGEST_LINE = 80  # more without an end is no board of this kind
_TELL_GARBAGE_AFTER = 5  # a line is damaged now and then
_SILENT_S = 5.0
_NUMBER = re.compile(r"[+-]?\d{1,7}(\.\d{1,9})?")


class SerialLines:
    """Read lines from a serial port or ``socket://host:port``; opens it when first read.

    Parameters
    ----------
    rest : str
        The port, and the baud rate after ``@``.
    silent_s : float
        After so long without a reading it is told.

    Raises
    ------
    SourceError
        The rate after ``@`` is no whole number.
    """

    def __init__(self, rest: str, *, silent_s: float = _SILENT_S) -> None:
        self.name = f"serial:{rest}"
        self._port_name, _, baud = rest.partition("@")
        if baud and not baud.isdecimal():
            raise SourceError(f"{self.name}: {baud!r} is no baud rate; say PORT@9600")
        self._baud = int(baud) if baud else _BAUD
        self._port: serial.Serial | None = None
        self._buffer = bytearray()
        self._skips_first = True
        self._garbage_count = 0
        self._told_garbage = False
        self._heard_s = 0.0
        self._silent_s = silent_s
        self._told_silence = False
        self._rpm_watch = RpmWatch()
        self._backoff = Backoff()
        self._closed = False

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Give the reading of the next line."""
        if self._closed:
            return None
        if self._port is None:
            return self._open(timeout_s)
        until_s = time.perf_counter() + timeout_s
        while True:
            line = self._next_line()
            if line is None:
                if time.perf_counter() >= until_s:
                    return self._silence()
                trouble = self._receive(max(0.0, until_s - time.perf_counter()))
                if trouble is not None:
                    return trouble
            elif (event := self._understand(line)) is not None:
                return event

    def close(self) -> None:
        """Close the port."""
        self._closed = True
        self._drop_port()

    def _open(self, timeout_s: float) -> SourceTrouble | None:
        if not self._backoff.wait(timeout_s):
            return None
        try:
            port = serial.serial_for_url(
                self._port_name, self._baud, timeout=0.1, write_timeout=1.0
            )
        except PORT_ERRORS as error:
            return self._trouble(
                f"cannot open ({error}); plug it in, allow access to it (Linux: group dialout), "
                "or close what uses it"
            )
        self._port = port
        self._heard_s = time.perf_counter()
        self._buffer.clear()
        self._skips_first = True  # the first line may have begun before we listened
        return None

    def _receive(self, at_most_s: float) -> SourceTrouble | None:
        if self._port is None:
            return None
        try:
            self._port.timeout = min(0.2, at_most_s)
            data = self._port.read(max(1, min(self._port.in_waiting, 256)))
        except PORT_ERRORS as error:
            self._drop_port()
            return self._trouble(f"lost ({error}); plug it in again")
        self._buffer += data
        if data:
            self._backoff.reset()
        if len(self._buffer) > _LONGEST_LINE and b"\n" not in self._buffer:
            self._buffer.clear()
            self._skips_first = True
            return self._garbage("a line without an end")
        return None

    def _next_line(self) -> bytes | None:
        line, end, rest = bytes(self._buffer).partition(b"\n")
        if not end:
            return None
        self._buffer[:] = rest
        return line.strip()

    def _understand(self, line: bytes) -> Reading | SourceTrouble | None:
        now_s = time.perf_counter()
        if self._skips_first:
            self._skips_first = False
            return None
        if not line or line.startswith(b"#"):
            return None
        parsed = parse_line(line)
        if parsed is None:
            return self._garbage(repr(line[:40]))
        quantity, value = parsed
        if not is_in_range(quantity, value):
            return self._garbage(f"{quantity} {value:g}, which cannot be")
        if quantity == "rpm" and not self._rpm_watch.believes(value, now_s):
            return None
        self._garbage_count = max(0, self._garbage_count - 1)
        self._told_garbage = self._told_garbage and self._garbage_count > 0
        self._heard_s, self._told_silence = now_s, False
        return Reading(quantity=quantity, value=value, request_s=now_s, reply_s=now_s)

    def _garbage(self, what: str) -> SourceTrouble | None:
        self._garbage_count = min(self._garbage_count + 1, _TELL_GARBAGE_AFTER)
        if self._told_garbage or self._garbage_count < _TELL_GARBAGE_AFTER:
            return None
        self._told_garbage = True
        return SourceTrouble(
            code="telemetry_garbled",
            message=f"{self.name} sent {what}; check the baud rate and the wires",
            at_s=time.perf_counter(),
        )

    def _silence(self) -> SourceTrouble | None:
        is_silent = time.perf_counter() - self._heard_s > self._silent_s
        if not is_silent or self._told_silence or self._told_garbage:
            return None
        self._told_silence = True
        return SourceTrouble(
            code="telemetry_silent",
            message=f"{self.name} gives no reading; look whether the board runs, and at its wires",
            at_s=self._heard_s,
        )

    def _trouble(self, what: str) -> SourceTrouble | None:
        if not self._backoff.fail():
            return None
        return SourceTrouble(
            code="telemetry_lost", message=f"{self.name} {what}", at_s=time.perf_counter()
        )

    def _drop_port(self) -> None:
        port, self._port = self._port, None
        if port is not None:
            port.close()


def parse_line(line: bytes) -> tuple[str, float] | None:
    """Give quantity and value of one line without its end, or None."""
    try:
        text = line.decode("ascii")
    except UnicodeDecodeError:
        return None
    name, sign, number = text.rpartition("=")
    quantity = name.strip() if sign else "rpm"
    number = number.strip()
    if quantity not in QUANTITIES or not _NUMBER.fullmatch(number):
        return None
    value = float(number)
    return (quantity, value) if math.isfinite(value) else None
