"""Things to talk to over TCP or a pseudo-terminal: a diagnostic adapter, and printed lines."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import os
import select
import socket
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

from tests.logger.sources.obd.elm import Elm

needs_pty = pytest.mark.skipif(
    not hasattr(os, "openpty"), reason="no pseudo-terminals on this system"
)


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


class Pty:
    """A pseudo-terminal in the place of a USB device (Linux and macOS).

    Attributes
    ----------
    path : str
        What to open. It stays the same over :meth:`unplug` and :meth:`replug`.
    """

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="adapter")
        self._link = Path(self._folder.name) / "ttyADAPTER"
        self.path = str(self._link)
        self._stop = threading.Event()
        self._is_idle = threading.Event()
        self._master = -1
        self._thread: threading.Thread | None = None

    def __enter__(self) -> Self:
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

        self._stop.clear()
        self._master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(self._master, False)
        self._link.symlink_to(os.ttyname(slave))
        self._thread = threading.Thread(target=self._run, args=(slave,), name="adapter")
        self._thread.start()

    def unplug(self) -> None:
        """Pull the plug: who reads gets an input/output error, and the path leads nowhere."""
        self._link.unlink(missing_ok=True)
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=5.0)
            assert not self._thread.is_alive()

    def settle(self) -> None:
        """Wait until everything that was typed is answered."""
        self._is_idle.clear()
        while self._thread is not None and self._thread.is_alive() and not self._is_idle.wait(0.1):
            pass

    def write(self, data: bytes) -> None:
        """Print; what does not fit is lost, as nobody listens."""
        with contextlib.suppress(BlockingIOError):
            os.write(self._master, data)

    def take(self, data: bytes) -> None:
        """Take what was typed."""

    def _run(self, slave: int) -> None:
        while not self._stop.is_set():
            if not select.select([self._master], [], [], 0.005)[0]:
                self._is_idle.set()
            else:
                self.take(os.read(self._master, 256))
        os.close(slave)
        os.close(self._master)


class PtyAdapter(Pty):
    """An adapter behind a pseudo-terminal, as a USB one is.

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
    log : list of Asked
        Every question to the car, as ``(command, asked_s, answered_s, rpm)``: times of
        :func:`time.perf_counter`, rpm as it was sent (steps of 0.25), None for other questions.
    elm : Elm
        How it behaves; ``elm.answer`` is the car when there is no ``rpm_at``.
    """

    def __init__(
        self, *, rpm_at: Callable[[float], float] | None = None, latency_s: float = 0.0
    ) -> None:
        super().__init__()
        self.elm = Elm(rpm_at=rpm_at, latency_s=latency_s)
        self.elm.stop = self._stop
        self.log = self.elm.log

    def replug(self) -> None:
        """Plug in: a new terminal behind the same path, and the adapter starts anew."""
        self.elm.reset()
        super().replug()

    def take(self, data: bytes) -> None:
        for reply in self.elm.replies(data):
            self.write(reply)


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
