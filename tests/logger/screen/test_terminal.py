"""What goes to standard error while a drive is recorded."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import logger.screen.terminal
from logger.screen.terminal import PROGRESS_KEY, progress_bar, read_progress

SCRIPT = """\
import os, sys
from logger.screen.terminal import MessageConsole, quiet_libraries
console = MessageConsole()
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
