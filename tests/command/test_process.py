"""The command as a process of its own: readers that leave, signals, streams that are closed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import pipenote
from tests.command_line import BASELINE, CAR

SHOW = ["pipenote", "car", CAR]  # says much, and loads little


@pytest.mark.parametrize(
    "typed", [["size", "--hz", "100", "--json"], SHOW[1:]], ids=["a document", "a drawing"]
)
def test_a_reader_that_leaves_early_is_no_trouble(typed: list[str]) -> None:
    """As ``pipenote size ... | head -1`` does: a closed pipe on standard output."""
    command = [sys.executable, str(Path(pipenote.__file__)), *typed]
    read_end, write_end = os.pipe()
    os.close(read_end)
    ended = subprocess.run(command, stdout=write_end, stderr=subprocess.PIPE, check=False)
    os.close(write_end)
    assert (ended.returncode, ended.stderr) == (0, b"")


AS_PROGRAM = """
import atexit, os, runpy, signal, sys
{before}
sys.argv = {typed}
runpy.run_module("pipenote", run_name="__main__", alter_sys=True)
"""
INTERRUPT_WHILE_LOADING = """
class Interrupt:
    def find_spec(self, name, path, target=None):
        if name == "rich.console":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Interrupt())
"""


@pytest.mark.parametrize(
    ("before", "status", "said"),
    [
        (INTERRUPT_WHILE_LOADING, 130, "pipenote: interrupted\n"),
        ("atexit.register(signal.raise_signal, signal.SIGINT)", 0, ""),
    ],
    ids=["while loading", "when all is done"],
)
def test_an_early_or_late_interrupt_is_no_traceback(before: str, status: int, said: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-c", AS_PROGRAM.format(before=before, typed=SHOW)],
        cwd=Path(pipenote.__file__).parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (status, said)


@pytest.mark.parametrize("closed", ["(1,)", "(0, 1, 2)"])
def test_closed_streams_are_no_trouble(closed: str) -> None:
    """As ``pipenote car ... >&-`` does."""
    close = f"import os, sys\nfor handle in {closed}: os.close(handle)\n"
    run_it = f"os.execv(sys.executable, [sys.executable, {pipenote.__file__!r}, *sys.argv[1:]])"
    ended = subprocess.run(
        [sys.executable, "-c", close + run_it, *SHOW[1:]],
        capture_output=True,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (0, b"")


def test_a_library_that_warns_its_programmers_is_not_heard() -> None:
    warn = "import warnings; atexit.register(warnings.warn, 'overflow', RuntimeWarning)"
    ended = subprocess.run(
        [sys.executable, "-c", AS_PROGRAM.format(before=warn, typed=SHOW)],
        cwd=Path(pipenote.__file__).parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (0, "")


@pytest.mark.skipif(sys.platform == "win32", reason="no such signals there")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_an_import_that_is_told_to_end_leaves_nothing_behind(tmp_path: Path, name: str) -> None:
    """The signal comes when all is written and not yet in its place."""
    before = f"""
import logger.folder.atomic
logger.folder.atomic.sync_folder = lambda _: signal.raise_signal(signal.{name})
"""
    typed = [
        "pipenote",
        "import",
        "--out",
        str(tmp_path / "new"),
        "--audio",
        f"{BASELINE}/audio.wav",
    ]
    ended = subprocess.run(
        [sys.executable, "-c", AS_PROGRAM.format(before=before, typed=typed)],
        cwd=Path(pipenote.__file__).parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (130, "pipenote: interrupted\n")
    assert list(tmp_path.iterdir()) == []
