"""One key for a passenger: ``m`` marks this moment. Nobody needs it, least of all the driver."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import select
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Protocol, TextIO

_KEY = "m"
_FIRST_OF_TWO = ("\x00", "\xe0")


class MarkKey:
    """Tells whether the key was pressed; without a terminal it never was."""

    def __init__(self, terminal: TextIO | None) -> None:
        self._terminal = terminal

    @property
    def is_there(self) -> bool:
        """Whether there is a keyboard to press it on."""
        return self._terminal is not None

    def pressed(self) -> bool:
        """Take one key press, if there is one; True when it was the key for a mark."""
        if self._terminal is None:
            return False
        return _next_key(self._terminal).lower() == _KEY


class _WindowsKeys(Protocol):
    """What Windows' own module tells of the keyboard."""

    def kbhit(self) -> bool: ...

    def getwch(self) -> str: ...


def next_windows_key(keys: _WindowsKeys) -> str:
    """Take one press; an arrow comes as two codes, and the right one's second is an ``M``.

    Source: the reference of Microsoft's C library for ``_getwch``.
    """
    if not keys.kbhit():
        return ""
    key = keys.getwch()
    if key in _FIRST_OF_TWO:
        keys.getwch()
        return ""
    return key


if sys.platform == "win32":
    import msvcrt

    def _next_key(terminal: TextIO) -> str:
        del terminal
        return next_windows_key(msvcrt)

    @contextmanager
    def mark_key() -> Iterator[MarkKey]:
        """Listen to the keyboard."""
        yield MarkKey(sys.stdin if sys.stdin is not None and sys.stdin.isatty() else None)

else:
    import os
    import signal
    import termios
    import tty

    def _is_ours(terminal: TextIO) -> bool:
        """Whether a key is meant for us: what reads or sets it in the background is stopped."""
        try:
            return os.tcgetpgrp(terminal.fileno()) == os.getpgrp()
        except OSError:  # another session's, or its window was closed
            return False

    def _next_key(terminal: TextIO) -> str:
        if not _is_ours(terminal) or not select.select([terminal], [], [], 0.0)[0]:
            return ""
        try:
            return os.read(terminal.fileno(), 1).decode("ascii", "replace")
        except OSError:  # the window was closed; that ends the recording by another way
            return ""

    @contextmanager
    def mark_key() -> Iterator[MarkKey]:
        """Let keys come at once and unseen, and put the terminal back as it was."""
        terminal = sys.stdin
        if terminal is None or not terminal.isatty() or not _is_ours(terminal):
            yield MarkKey(None)
            return
        before = termios.tcgetattr(terminal)

        def take_keys(number: int = 0, frame: FrameType | None = None) -> None:
            del number, frame
            if _is_ours(terminal):
                with contextlib.suppress(termios.error):  # the window was closed
                    tty.setcbreak(terminal, termios.TCSANOW)

        take_keys()
        # who was stopped by Ctrl-Z and goes on by fg finds the terminal as the shell has it
        went_on = signal.signal(signal.SIGCONT, take_keys)
        try:
            yield MarkKey(terminal)
        finally:
            signal.signal(signal.SIGCONT, went_on)
            if _is_ours(terminal):
                with contextlib.suppress(termios.error):  # the window was closed
                    termios.tcsetattr(terminal, termios.TCSANOW, before)
