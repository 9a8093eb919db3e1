"""What goes to standard error while a drive is recorded."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import logger.screen.terminal

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
