"""A made-up diagnostic adapter: its side of the conversation, and the car behind it.

The adapter speaks what the public data sheet of the ELM327 describes: commands end with CR,
answers with ``>``, a bare CR repeats the last command, and after a reset echo is on and headers
are off. The answers are those of SAE J1979 on an 11-bit CAN bus (ISO 15765-4), unpadded.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

Answer = Callable[[bytes], bytes | None]  # from a question to what is printed; None is silence

CAR = {
    b"0100": "41 00 18 38 80 01",  # has 04 05 0B 0C 0D 11, and more from 20 on
    b"0120": "41 20 00 00 00 11",  # has 3C, and more from 40 on
    b"0140": "41 40 00 00 00 00",
    b"0104": "41 04 80",
    b"0105": "41 05 7B",
    b"010B": "41 0B 65",
    b"010C": "41 0C 1F 40",  # 2,000 rpm: 0x1F40 / 4
    b"010D": "41 0D 48",  # 72 km/h = 20 m/s
    b"0111": "41 11 33",
    b"013C": "41 3C 0F A0",  # 360 degC: 4000 / 10 - 40
}


def frame(data: str, ecu: str = "7E8") -> bytes:
    """One CAN frame of an engine's computer, as the adapter prints it with headers on."""
    return f"{ecu} {len(data.split()):02X} {data}".encode()


def car(question: bytes) -> bytes | None:
    """A car that answers everything; a fifth digit only says how many frames to wait for."""
    data = CAR.get(question[:4])
    return frame(data) if data else b"NO DATA"


@dataclass(frozen=True, slots=True)
class Asked:
    """One question to the car: when it came, when the answer was sent, and the rpm in it."""

    command: bytes
    asked_s: float
    answered_s: float
    rpm: float | None


class Elm:
    """The adapter's side of the conversation, without a line.

    Attributes
    ----------
    answer : Answer
        The car; a test may replace it at any moment.
    settings : dict
        Answers to AT commands that differ from ``OK``.
    prompt : bytes
        What ends every answer.
    is_deaf : bool
        Whether nothing is answered at all.
    """

    def __init__(
        self,
        answer: Answer = car,
        rpm_at: Callable[[float], float] | None = None,
        latency_s: float = 0.0,
    ) -> None:
        self.answer = answer
        self.rpm_at = rpm_at
        self.latency_s = latency_s
        self.log: list[Asked] = []
        self.commands: list[bytes] = []
        self.stop = threading.Event()
        self._buffer = b""
        self._last = b""
        self.get_well()

    def get_well(self) -> None:
        """Behave as a good adapter does."""
        self.prompt = b"\r\r>"
        self.is_deaf = False
        self.settings = {b"ATZ": b"ELM327 v1.5", b"ATRV": b"12.6V", b"ATDPN": b"6"}
        self.reset()

    def reset(self) -> None:
        """As after power came back."""
        self._has_echo, self._has_headers = True, False

    def replies(self, data: bytes) -> Iterator[bytes]:
        """Take what was typed; give what to print, after the latency."""
        self._buffer += data
        while b"\r" in self._buffer:
            typed, _, self._buffer = self._buffer.partition(b"\r")
            echo = typed + b"\r" if self._has_echo else b""
            self._last = typed.replace(b" ", b"").upper() or self._last
            self.commands.append(self._last)
            is_setting = self._last.startswith(b"AT")
            reply = self._set(self._last) if is_setting else self._ask_car(self._last)
            if reply is not None and not self.is_deaf:
                yield echo + reply + self.prompt

    def _set(self, command: bytes) -> bytes:
        if command == b"ATZ":
            self.reset()
        if command in (b"ATE0", b"ATE1"):
            self._has_echo = command == b"ATE1"
        if command in (b"ATH0", b"ATH1"):
            self._has_headers = command == b"ATH1"
        return self.settings.get(command, b"OK")

    def _ask_car(self, question: bytes) -> bytes | None:
        if not question.isalnum():
            return b"?"
        asked_s = time.perf_counter()
        self.stop.wait(0.5 * self.latency_s)
        rpm = None
        if self.rpm_at is not None and question[:4] == b"010C":
            raw = round(4.0 * self.rpm_at(time.perf_counter()))
            rpm = raw / 4.0
            text: bytes | None = frame(f"41 0C {raw >> 8:02X} {raw & 0xFF:02X}")
        else:
            text = self.answer(question)
        self.stop.wait(0.5 * self.latency_s)
        self.log.append(Asked(question, asked_s, time.perf_counter(), rpm))
        if text is None or self._has_headers:
            return text
        return b"\r".join(line.removeprefix(b"7E8 ")[3:] for line in text.split(b"\r"))
