"""``timed://REPLY_S/SEARCH_S/PORT``: a port that never hangs, for a library that waits two minutes.

python-OBD reads with a time-out of ten seconds, up to twelve times, and goes on believing in the
connection. Here an adapter that is silent for ``REPLY_S`` after a command is a lost one, told by
the exception that the library understands. The whole set-up gets ``SEARCH_S``, and for so long
after opening an adapter that says it searches for the car's protocol may go on.

Bytes that are not ASCII become ``?``: the library leaves them out, and what is left of a damaged
line could pass for another answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import sys
import time
from typing import TYPE_CHECKING

import serial
from serial.urlhandler import protocol_socket

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

_SEARCHING = (b"SEARCHING", b"BUS INIT")
_SET_UP = b"AT"  # such commands come only before the first question to the car, and at the end
_SLICE_S = 0.1  # judgement: how soon a close is seen; no byte waits for it
_WRITE_S = 1.0
# bytes from 128 on are no ASCII (RFC 20)
_ONLY_ASCII = bytes(code if code < 0x80 else ord("?") for code in range(256))


# what pyserial raises when a port is not there, may not be used, or goes away
PORT_ERRORS: tuple[type[Exception], ...] = (OSError, ValueError)
if sys.platform != "win32":
    import termios

    # SerialException is an OSError; a port lost while it is set up raises the terminal's own
    PORT_ERRORS = (*PORT_ERRORS, termios.error)


class _Timed(serial.SerialBase):
    """Mixed into a port class of pyserial, before it."""

    reply_limit_s: float
    search_limit_s: float
    _opened_s = 0.0
    _asked_s = 0.0
    _heard = b""

    def open(self) -> None:
        """Open, with the time-outs that are wanted here."""
        self.timeout = _SLICE_S
        self.write_timeout = _WRITE_S  # some Bluetooth ports of Windows never finish a write
        self._opened_s = time.perf_counter()
        super().open()  # type: ignore[misc] # every port has it

    def write(self, data: ReadableBuffer, /) -> int | None:
        """Write; the clock for the answer starts now.

        Raises
        ------
        serial.SerialException
            The set-up goes on for too long.
        """
        self._asked_s = time.perf_counter()
        self._heard = b""
        if bytes(data).startswith(_SET_UP) and self._asked_s - self._opened_s > self.search_limit_s:
            raise serial.SerialException("the set-up takes too long")
        return super().write(data)

    def flush(self) -> None:
        """Do nothing: to wait for the wire can hang, and Windows does it in steps of 50 ms."""

    def read(self, size: int = 1, /) -> bytes:
        """Read; nothing only after the prompt, when nothing more is there.

        Raises
        ------
        serial.SerialException
            No answer, or none that ends, in time.
        """
        while True:
            if self._heard.endswith(b">") and not self.in_waiting:  # type: ignore[attr-defined] # as open
                return b""
            data = super().read(size).translate(_ONLY_ASCII)
            self._heard += data
            if data:
                return data
            now_s = time.perf_counter()
            searches = any(word in self._heard for word in _SEARCHING)
            may_go_on = searches and now_s - self._opened_s < self.search_limit_s
            if now_s - self._asked_s > self.reply_limit_s and not may_go_on:
                raise serial.SerialException(f"no answer for {now_s - self._asked_s:.1f} s")


class _TimedSerial(_Timed, serial.Serial):
    def open(self) -> None:
        """Open, and ask a USB chip not to keep bytes back for 16 ms where the system can."""
        super().open()
        with contextlib.suppress(NotImplementedError, ValueError):
            self.set_low_latency_mode(True)


class _TimedSocket(_Timed, protocol_socket.Serial):
    def close(self) -> None:
        """Close, also when the other side is gone: pyserial then keeps the socket open."""
        line = getattr(self, "_socket", None)
        super().close()
        if line is not None:
            line.close()


def timed_url(port: str, *, reply_limit_s: float, search_limit_s: float) -> str:
    """Write the address of a port that is timed."""
    return f"timed://{reply_limit_s}/{search_limit_s}/{port}"


def serial_class_for_url(url: str) -> tuple[str, type[_Timed]]:
    """Give the port to open and the class that opens it; pyserial calls this."""
    reply_s, search_s, port = url.partition("://")[2].split("/", 2)
    base = _TimedSocket if port.lower().startswith("socket://") else _TimedSerial
    limits = {"reply_limit_s": float(reply_s), "search_limit_s": float(search_s)}
    return port, type("TimedPort", (base,), limits)
