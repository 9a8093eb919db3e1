"""What goes to standard error while a drive is recorded."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import logger.screen.terminal
from logger.screen.terminal import (
    PROGRESS_KEY,
    OurConsole,
    headed,
    labelled,
    one_line,
    progress_bar,
    read_progress,
    show,
)

SCRIPT = """\
import os, sys
from logger.screen.terminal import OurConsole, quiet_libraries
console = OurConsole(stderr=True)
with quiet_libraries():
    os.write(2, b"from a library in C\\n")
    console.print("a line")
    print("a warning", file=sys.stderr)
os.write(2, b"afterwards\\n")
console.print("the end")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="libraries there have handles of their own")
def test_libraries_are_silent_and_nobody_else_is() -> None:
    root = Path(logger.screen.terminal.__file__).parents[2]
    ended = subprocess.run(
        [sys.executable, "-c", SCRIPT], cwd=root, capture_output=True, check=False, text=True
    )
    assert (ended.returncode, ended.stdout) == (0, "")
    assert ended.stderr.splitlines() == ["a line", "a warning", "afterwards", "the end"]


def test_progress_comes_as_lines_where_it_is_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(PROGRESS_KEY, "lines")
    with progress_bar("sizing") as progress:
        progress(0.4)
    (line,) = capsys.readouterr().err.splitlines()
    assert read_progress(line) == (0.4, "sizing")
    assert read_progress("pipenote: no such file") is None


def test_a_terminal_is_told_at_once_what_is_done_and_for_how_long_already(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")  # what the library takes for a terminal
    monkeypatch.setenv("TERM", "xterm")
    with progress_bar("listening to [monday]"):
        shown = capsys.readouterr().err
    assert "listening to [monday] ..." in shown
    assert "0:00:00" in shown
    assert "-:--:--" not in shown  # no time left, not even one that is not known yet


def test_a_line_too_long_to_read_keeps_its_beginning_and_its_end() -> None:
    line = one_line("the file " + "x" * 5000 + " is damaged; export it again")
    assert len(line) <= 800
    assert line.startswith("the file xxx")
    assert line.endswith("xxx is damaged; export it again")
    assert one_line("short\n") == "short"


def test_nothing_in_a_table_is_obeyed(capsys: pytest.CaptureFixture[str]) -> None:
    evil = "a\x1b[31m\x1b]0;title\x07\u202eb [bold]"
    show(headed("t", ["name"], [[evil]]))
    show(labelled([("Name", evil)]))
    shown = capsys.readouterr().out
    assert not {"\x1b", "\x07", "\u202e"} & set(shown)
    assert shown.count("[bold]") == 2


@pytest.mark.parametrize(
    ("columns", "width"),
    [("0", 80), ("1", 80), ("20", 20), ("132", 132), ("99999999", 80), ("wide", 80), ("", 80)],
)
def test_a_width_that_is_none_is_not_believed(
    monkeypatch: pytest.MonkeyPatch, columns: str, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    assert OurConsole(stderr=False).width == width
