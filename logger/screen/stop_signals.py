"""Ctrl-C, a polite kill and a closed terminal window as a question to ask.

So a recording ends by saving itself. On Windows closing the window or logging off is SIGBREAK.
What whoever started the program wants ignored, as nohup does, stays ignored.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # which of them there are, differs


@contextmanager
def stop_signals() -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether somebody asked to stop."""
    asked: list[int] = []  # no lock: another signal may come in the midst of this one

    def note(number: int, frame: FrameType | None) -> None:
        del frame
        asked[:] = [number]

    numbers = [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    before = {number: signal.signal(number, note) for number in heeded}
    try:
        yield lambda: bool(asked)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
