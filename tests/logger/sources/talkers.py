"""Things to talk to: a made-up diagnostic adapter on TCP or a pseudo-terminal, and printed lines.

The adapter speaks what the public data sheet of the ELM327 describes: commands end with CR,
answers with ``>``, a bare CR repeats the last command, and after a reset echo is on and headers
are off. The answers are those of SAE J1979 on an 11-bit CAN bus (ISO 15765-4), unpadded.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import os
import select
import socket
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

import pytest

Answer = Callable[[bytes], bytes | None]  # from a question to what is printed; None is silence

needs_pty = pytest.mark.skipif(
    not hasattr(os, "openpty"), reason="no pseudo-terminals on this system"
)

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
        self.prompt = b"\r\r>"
        self.is_deaf = False
        self.settings = {b"ATZ": b"ELM327 v1.5", b"ATRV": b"12.6V", b"ATDPN": b"6"}
        self.log: list[Asked] = []
        self.commands: list[bytes] = []
        self.stop = threading.Event()
        self._buffer = b""
        self._last = b""
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


class Server:
    """Listens on a free port and serves one client after the other in its own thread."""

    def __init__(self) -> None:
        self.connections = 0
        self._stop = threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(0.05)
        self._client: socket.socket | None = None
        self._thread = threading.Thread(target=self._run, name="talker")
        self.url = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"

    def __enter__(self) -> Server:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join(timeout=5.0)
        self._listener.close()
        assert not self._thread.is_alive()

    def unplug(self) -> None:
        """Cut the line to the client; the next one may come at once."""
        client = self._client
        if client is not None:
            client.shutdown(socket.SHUT_RDWR)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                client, _ = self._listener.accept()
            except TimeoutError:
                continue
            with client:
                client.settimeout(0.02)
                self._client = client
                self.connections += 1
                with contextlib.suppress(OSError):  # the client went away
                    self.serve(client)
                self._client = None

    def serve(self, client: socket.socket) -> None:
        raise NotImplementedError


class TcpAdapter(Server):
    """An adapter behind ``url``, as a Wi-Fi one is; ``elm`` says how it behaves."""

    def __init__(self, elm: Elm | None = None) -> None:
        super().__init__()
        self.elm = elm or Elm()
        self.elm.stop = self._stop

    def __enter__(self) -> TcpAdapter:
        super().__enter__()
        return self

    def serve(self, client: socket.socket) -> None:
        while not self._stop.is_set():
            try:
                data = client.recv(256)
            except TimeoutError:
                continue
            if not data:
                return
            for reply in self.elm.replies(data):
                client.sendall(reply)


class PtyAdapter:
    """An adapter behind a pseudo-terminal, as a USB one is (Linux and macOS).

    ::

        with PtyAdapter(rpm_at=lambda now_s: 2000.0, latency_s=0.02) as adapter:
            source = ObdSource(adapter.path)

    Parameters
    ----------
    rpm_at : callable, optional
        From :func:`time.perf_counter` to rpm, below 16,384. It is called half of ``latency_s``
        after the question came; without it the car stands at 2,000 rpm.
    latency_s : float
        From question to answer. May be set anew at any moment as ``elm.latency_s``.

    Attributes
    ----------
    path : str
        What to open. It stays the same over :meth:`unplug` and :meth:`replug`.
    log : list of Asked
        Every question to the car, as ``(command, asked_s, answered_s, rpm)``: times of
        :func:`time.perf_counter`, rpm as it was sent (steps of 0.25), None for other questions.
    elm : Elm
        How it behaves; ``elm.answer`` is the car when there is no ``rpm_at``.
    """

    def __init__(
        self, *, rpm_at: Callable[[float], float] | None = None, latency_s: float = 0.0
    ) -> None:
        self.elm = Elm(rpm_at=rpm_at, latency_s=latency_s)
        self.log = self.elm.log
        self._folder = tempfile.TemporaryDirectory(prefix="adapter")
        self._link = Path(self._folder.name) / "ttyADAPTER"
        self.path = str(self._link)
        self._thread: threading.Thread | None = None
        self._is_idle = threading.Event()

    def __enter__(self) -> PtyAdapter:
        self.replug()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.unplug()
        self._folder.cleanup()

    def replug(self) -> None:
        """Plug in: a new terminal behind the same path."""
        import tty  # not on Windows

        self.elm.reset()
        self.elm.stop = threading.Event()
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._link.symlink_to(os.ttyname(slave))
        self._thread = threading.Thread(target=self._run, args=(master, slave), name="adapter")
        self._thread.start()

    def unplug(self) -> None:
        """Pull the plug: who reads gets an input/output error, and the path leads nowhere."""
        self._link.unlink(missing_ok=True)
        self.elm.stop.set()
        if self._thread is not None:
            self._thread.join(timeout=5.0)
            assert not self._thread.is_alive()

    def settle(self) -> None:
        """Wait until everything that was typed is answered."""
        self._is_idle.clear()
        while self._thread is not None and self._thread.is_alive() and not self._is_idle.wait(0.1):
            pass

    def _run(self, master: int, slave: int) -> None:
        while not self.elm.stop.is_set():
            if not select.select([master], [], [], 0.005)[0]:
                self._is_idle.set()
            else:
                for reply in self.elm.replies(os.read(master, 256)):
                    with contextlib.suppress(BlockingIOError):  # nobody listens
                        os.write(master, reply)
        os.close(slave)
        os.close(master)


class LinePrinter(Server):
    """Prints the lines it was given, again and again."""

    def __init__(self, *lines: bytes) -> None:
        super().__init__()
        self.lines = lines or (b"2000\r\n", b"road_speed_m_s=20.5\n")

    def __enter__(self) -> LinePrinter:
        super().__enter__()
        return self

    def serve(self, client: socket.socket) -> None:
        while not self._stop.wait(0.005):
            for line in self.lines:
                client.sendall(line)
