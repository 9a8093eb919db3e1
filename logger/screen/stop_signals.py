"""Ctrl-C, a polite kill and a closed terminal window as a question to ask.

So a recording ends by saving itself. On Windows a closing window, logging off and shutting down
come as events of the console, and the system ends the program as soon as the event's handler
returns: so it waits until the drive is saved. What whoever started the program wants ignored, as
nohup does, stays ignored.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

# CTRL_CLOSE_EVENT, CTRL_LOGOFF_EVENT, CTRL_SHUTDOWN_EVENT: HandlerRoutine of the Windows console,
# which also says that a closing program is ended after 5 s (from memory).
_CLOSING = (2, 5, 6)
_PATIENCE_S = 4.5  # judgement: less than those 5 s, so that the program ends by itself
_NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # which of them there are, differs


@contextmanager
def stop_signals() -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether somebody asked to stop."""
    asked: list[int] = []  # no lock: another signal may come in the midst of this one

    def note(number: int, frame: FrameType | None) -> None:
        del frame
        asked[:] = [number]

    saved = threading.Event()
    numbers = [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
    heeded = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    before = {number: signal.signal(number, note) for number in heeded}
    try:
        with console_events(closing_handler(asked, saved)):
            try:
                yield lambda: bool(asked)
            finally:
                saved.set()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def closing_handler(asked: list[int], saved: threading.Event) -> Callable[[int], bool]:
    """Make what Windows calls, in a thread of its own, when the console closes.

    It asks to stop, and returns when ``saved`` says that all is saved, or the system's patience is
    over; of other events it gives False, so that their own handlers are called.
    """

    def handle(event: int) -> bool:
        if event not in _CLOSING:
            return False
        asked[:] = [event]
        saved.wait(_PATIENCE_S)
        return True

    return handle


@contextmanager
def console_events(handle: Callable[[int], bool]) -> Iterator[None]:
    """Let Windows call ``handle`` for events of the console; elsewhere there are none."""
    if sys.platform != "win32":
        yield
        return
    import ctypes

    kernel = ctypes.WinDLL("kernel32", use_last_error=True)
    routine = ctypes.WINFUNCTYPE(ctypes.c_int, ctypes.c_uint)(handle)  # held until it is taken off
    kernel.SetConsoleCtrlHandler(routine, True)
    try:
        yield
    finally:
        kernel.SetConsoleCtrlHandler(routine, False)
