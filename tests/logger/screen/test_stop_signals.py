"""Signals that ask to stop: noted, given back, and left alone where nobody wants to hear them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import ctypes
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from logger.screen.stop_signals import closing_handler, stop_signals

# Events of the Windows console (HandlerRoutine, from memory).
CTRL_C_EVENT, CTRL_BREAK_EVENT, CTRL_CLOSE_EVENT = 0, 1, 2
NUMBERS = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]


@pytest.fixture(params=NUMBERS, ids=lambda number: number.name)
def number(request: pytest.FixtureRequest) -> Iterator[signal.Signals]:
    before = signal.getsignal(request.param)
    yield request.param
    signal.signal(request.param, before)


def test_a_signal_is_noted_and_its_handler_given_back(number: signal.Signals) -> None:
    before = signal.getsignal(number)
    with stop_signals() as stopped:
        assert not stopped()
        signal.raise_signal(number)
        assert stopped()
    assert signal.getsignal(number) is before


def test_a_signal_that_is_ignored_stays_so_as_nohup_wants_it(number: signal.Signals) -> None:
    signal.signal(number, signal.SIG_IGN)
    with stop_signals() as stopped:
        signal.raise_signal(number)
        assert not stopped()
    assert signal.getsignal(number) is signal.SIG_IGN


BURST = """
import os, subprocess, sys
from logger.screen.stop_signals import closing_handler, stop_signals

SEND = "import os, sys; [os.kill(int(sys.argv[1]), 2) for _ in range(20_000)]"
with stop_signals() as stopped:
    sender = subprocess.Popen([sys.executable, "-S", "-c", SEND, str(os.getpid())])
    while sender.poll() is None:
        stopped()
    print(stopped())
"""


@pytest.mark.skipif(sys.platform == "win32", reason="os.kill ends the process there")
def test_a_signal_in_the_midst_of_another_does_not_hang() -> None:
    ended = subprocess.run(
        [sys.executable, "-c", BURST],
        cwd=Path(__file__).parents[3],
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "True\n", "")


def test_a_closing_console_is_kept_waiting_until_all_is_saved() -> None:
    """By calling what Windows would call, in a thread of its own as there."""
    asked: list[int] = []
    saved = threading.Event()
    answers: list[bool] = []
    handle = closing_handler(asked, saved)
    system = threading.Thread(target=lambda: answers.append(handle(CTRL_CLOSE_EVENT)))
    system.start()
    while not asked:
        threading.Event().wait(0.001)
    assert answers == []  # it still waits, so the program lives
    saved.set()
    system.join(5.0)
    assert answers == [True]


def test_other_events_of_the_console_are_left_to_python() -> None:
    asked: list[int] = []
    handle = closing_handler(asked, threading.Event())
    assert [handle(event) for event in (CTRL_C_EVENT, CTRL_BREAK_EVENT)] == [False, False]
    assert asked == []


class Kernel:
    """Stands in for kernel32: keeps the routines that the console calls, newest first."""

    def __init__(self) -> None:
        self.routines: list[Callable[[int], int]] = []

    def SetConsoleCtrlHandler(  # noqa: N802 (as Windows calls it)
        self, routine: Callable[[int], int], is_added: bool
    ) -> int:
        if is_added:
            self.routines.insert(0, routine)
        else:
            self.routines.remove(routine)
        return 1

    def close_the_window(self) -> bool:
        """Call one after the other until one says that it did the work, as the console does."""
        return any(routine(CTRL_CLOSE_EVENT) for routine in self.routines)


def test_on_windows_a_closed_window_asks_to_stop_and_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    kernel = Kernel()

    def open_library(name: str, **kwargs: object) -> Kernel:
        del kwargs
        assert name == "kernel32"
        return kernel

    def routine_type(*types: object) -> Callable[[Callable[[int], int]], Callable[[int], int]]:
        assert types == (ctypes.c_int, ctypes.c_uint)  # BOOL and DWORD of a HandlerRoutine
        return lambda handle: handle

    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(ctypes, "WinDLL", open_library, raising=False)
    monkeypatch.setattr(ctypes, "WINFUNCTYPE", routine_type, raising=False)
    answers: list[bool] = []
    with stop_signals() as stopped:
        assert not stopped()
        system = threading.Thread(target=lambda: answers.append(kernel.close_the_window()))
        system.start()
        while not stopped():
            threading.Event().wait(0.001)
        assert answers == []  # the drive is not saved yet, and the program must live
    system.join(5.0)
    assert answers == [True]
    assert kernel.routines == []
