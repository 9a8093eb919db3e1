"""Things to talk to over TCP: so far a board that prints lines."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import socket
import threading
from types import TracebackType


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
