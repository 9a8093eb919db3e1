"""A terminal window with one program in it, whose keys can be pressed and which can be closed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import os
import select
import subprocess
import sys
import threading
from types import TracebackType

from tests.live.recording import ROOT
from tests.live.waiting import LONG_S

_COLUMNS, _ROWS = 100, 30
# The program leads a session of its own and the terminal is that session's, as in a window.
_LAUNCH = """\
import fcntl, os, struct, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", {rows}, {columns}, 0, 0))
os.execv(sys.executable, [sys.executable, *sys.argv[1:]])
"""


class Terminal:
    """Runs Python with these arguments; a context manager that kills it if it still runs."""

    def __init__(self, arguments: list[str], environment: dict[str, str]) -> None:
        self._arguments = arguments
        self._environment = environment | {"TERM": "xterm-256color"}
        self._said = bytearray()
        self._closing = threading.Event()
        self._reader = threading.Thread(target=self._read, name="terminal")

    def __enter__(self) -> Terminal:
        self._window, inside = os.openpty()
        launch = _LAUNCH.format(rows=_ROWS, columns=_COLUMNS)
        try:
            self.process = subprocess.Popen(
                [sys.executable, "-c", launch, *self._arguments],
                cwd=ROOT,
                env=self._environment,
                stdin=inside,
                stdout=inside,
                stderr=inside,
                start_new_session=True,
            )
        finally:
            os.close(inside)
        self._reader.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.process.kill()
        self.process.wait(timeout=LONG_S)
        self.close()

    def press(self, key: bytes) -> None:
        """Press a key; control-C is a signal, by the terminal's own doing."""
        os.write(self._window, key)

    def close(self) -> None:
        """Close the window: the program gets SIGHUP and has nowhere to write to."""
        if self._closing.is_set():
            return
        self._closing.set()
        self._reader.join(timeout=LONG_S)
        assert not self._reader.is_alive()
        os.close(self._window)

    def said(self) -> str:
        """All that was printed so far, control sequences included."""
        return self._said.decode(errors="replace")

    def _read(self) -> None:
        while not self._closing.is_set():
            if not select.select([self._window], [], [], 0.05)[0]:
                continue
            with contextlib.suppress(OSError):  # the program is over
                self._said += os.read(self._window, 4096)
                continue
            return
