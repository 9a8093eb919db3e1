"""The key for a mark, on a pseudo-terminal."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import io
import os
import select
import sys
from collections.abc import Iterator

import pytest

from logger.mark_key import mark_key

if sys.platform == "win32":
    pytest.skip("has no pseudo-terminals", allow_module_level=True)

import pty
import termios


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """The end of a pseudo-terminal at which a person types; the other one is standard input."""
    person, program = pty.openpty()
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
