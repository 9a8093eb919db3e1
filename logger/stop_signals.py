"""Ctrl-C and a polite kill as a question to ask, so that a recording ends by saving itself."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def stop_signals() -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether somebody asked to stop."""
    asked = threading.Event()

    def note(number: int, frame: FrameType | None) -> None:
        del number, frame
        asked.set()

    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield asked.is_set
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
