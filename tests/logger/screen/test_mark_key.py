"""The key for a mark, on a pseudo-terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import io
import os
import select
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import logger.screen.mark_key
from logger.screen.mark_key import mark_key, next_windows_key

if sys.platform == "win32":
    pytest.skip("has no pseudo-terminals", allow_module_level=True)

import pty
import termios


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """The end of a pseudo-terminal at which a person types; the other one is standard input.

    It is said to be this process's own, which a test cannot get without losing the one it has.
    """
    person, program = pty.openpty()
    monkeypatch.setattr(os, "tcgetpgrp", lambda handle: os.getpgrp())
    with os.fdopen(program, encoding="ascii") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        yield person
    with contextlib.suppress(OSError):  # a test may have closed it
        os.close(person)


def typed(keyboard: int, keys: bytes) -> None:
    os.write(keyboard, keys)
    select.select([sys.stdin], [], [], 5.0)


def test_each_press_is_one_mark_and_other_keys_are_none(keyboard: int) -> None:
    with mark_key() as key:
        assert not key.pressed()
        typed(keyboard, b"mxM")
        assert [key.pressed() for _ in range(4)] == [True, False, True, False]


class WindowsKeyboard:
    """Gives codes as Windows' own module does."""

    def __init__(self, codes: str) -> None:
        self.codes = list(codes)

    def kbhit(self) -> bool:
        return bool(self.codes)

    def getwch(self) -> str:
        return self.codes.pop(0)


def test_right_arrow_on_windows_is_no_mark() -> None:
    # Arrow right is E0 4D, F10 is 00 44: Microsoft's table of keyboard codes, from memory.
    keyboard = WindowsKeyboard("\xe0Mm\x00Dx")
    assert [next_windows_key(keyboard) for _ in range(5)] == ["", "m", "", "x", ""]


def test_keys_come_at_once_again_after_the_program_was_stopped_and_goes_on(keyboard: int) -> None:
    shells = termios.tcgetattr(sys.stdin)
    with mark_key() as key:
        ours = termios.tcgetattr(sys.stdin)
        termios.tcsetattr(sys.stdin, termios.TCSANOW, shells)  # what the shell does meanwhile
        os.kill(os.getpid(), signal.SIGCONT)
        assert termios.tcgetattr(sys.stdin) == ours
        typed(keyboard, b"m")
        assert key.pressed()


def test_terminal_is_put_back_as_it_was(keyboard: int) -> None:
    before = termios.tcgetattr(sys.stdin)
    with mark_key():
        assert termios.tcgetattr(sys.stdin) != before
    assert termios.tcgetattr(sys.stdin) == before


def test_without_a_terminal_nothing_is_pressed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("mmm"))
    with mark_key() as key:
        assert not key.pressed()


def test_window_that_was_closed_is_no_key_and_no_trouble(keyboard: int) -> None:
    with mark_key() as key:
        os.close(keyboard)
        assert not key.pressed()


# A shell: it leads a session with a terminal of its own and starts a job there. It tells how the
# job ended, and says "stopped" when the terminal stopped it.
SHELL = """\
import fcntl, os, signal, subprocess, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
job = subprocess.Popen([sys.executable, "-c", sys.argv[1]], process_group=0)
if sys.argv[2] == "foreground":
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    os.tcsetpgrp(0, job.pid)
os.write(1, b"started\\n")
_, status = os.waitpid(job.pid, os.WUNTRACED)
if os.WIFSTOPPED(status):
    os.killpg(job.pid, signal.SIGKILL)
    print("stopped by", signal.Signals(os.WSTOPSIG(status)).name)
else:
    print("ended", os.waitstatus_to_exitcode(status))
"""
IN_BACKGROUND = """\
from logger.screen.mark_key import mark_key, next_windows_key
with mark_key() as key:
    assert not key.is_there
    assert not key.pressed()
"""
SENT_TO_BACKGROUND = """\
import os, select, signal
from logger.screen.mark_key import mark_key, next_windows_key
while os.tcgetpgrp(0) != os.getpgrp():
    pass
with mark_key() as key:
    assert key.is_there
    while not key.pressed():
        pass
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)
    os.tcsetpgrp(0, os.getsid(0))  # as a shell does it after control-Z and bg
    signal.signal(signal.SIGTTOU, signal.SIG_DFL)
    os.write(1, b"typed?\\n")
    assert select.select([0], [], [], 30.0)[0]
    assert not key.pressed()
"""


@pytest.mark.parametrize(
    ("job", "place"), [(IN_BACKGROUND, "background"), (SENT_TO_BACKGROUND, "foreground")]
)
def test_terminal_does_not_stop_a_job_in_the_background(job: str, place: str) -> None:
    person, inside = pty.openpty()
    shell = subprocess.Popen(
        [sys.executable, "-c", SHELL, job, place],
        stdin=inside,
        stdout=inside,
        stderr=inside,
        start_new_session=True,
        cwd=Path(logger.screen.mark_key.__file__).parents[2],
    )
    os.close(inside)
    os.write(person, b"mm\n")
    said = b""
    with contextlib.suppress(OSError):  # the terminal is closed
        while part := os.read(person, 1000):
            said += part
            if b"typed?" in part:
                os.write(person, b"m\n")
    os.close(person)
    assert shell.wait(timeout=30) == 0
    assert said.rstrip().endswith(b"ended 0"), said.decode()
