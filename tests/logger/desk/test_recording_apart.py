"""The recording that the desk starts hears neither the desk's Ctrl-C nor its closed window.

Windows and macOS by fakes of what their systems are asked for; here by the real system.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from logger.desk.recording import RecordingWatch
from logger.screen.remote import STOP_FILE

# Process Creation Flags of the Windows API, from memory; the two differ from all others by a bit.
CREATE_NEW_PROCESS_GROUP, CREATE_NO_WINDOW = 0x0000_0200, 0x0800_0000
DETACHED_PROCESS, CREATE_NEW_CONSOLE = 0x0000_0008, 0x0000_0010


class Asked:
    """Stands in for ``subprocess.Popen``, and notes what the system would be asked for."""

    def __init__(self) -> None:
        self.command: list[str] = []
        self.kwargs: dict[str, Any] = {}

    def __call__(self, command: list[str], **kwargs: Any) -> None:
        self.command, self.kwargs = command, kwargs


def started_on(platform: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Asked:
    asked = Asked()
    with monkeypatch.context() as fake:
        flags = {"GROUP": CREATE_NEW_PROCESS_GROUP, "WINDOW": CREATE_NO_WINDOW}
        fake.setattr(subprocess, "CREATE_NEW_PROCESS_GROUP", flags["GROUP"], raising=False)
        fake.setattr(subprocess, "CREATE_NO_WINDOW", flags["WINDOW"], raising=False)
        if platform == "darwin":  # 51 is no command here, as on a share that knows no such sync
            fake.setattr(pytest.importorskip("fcntl"), "F_FULLFSYNC", 51, raising=False)
        fake.setattr(subprocess, "Popen", asked)
        fake.setattr("logger.desk.recording.sys.platform", platform)
        RecordingWatch(folder).start("monday", ["--out=monday"], {})
    return asked


def test_on_windows_it_has_a_console_of_its_own_that_nobody_sees(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else closing the desk's console would end it, or a black window would pop up."""
    asked = started_on("win32", tmp_path, monkeypatch)
    flags = asked.kwargs["creationflags"]
    assert flags & CREATE_NO_WINDOW
    assert flags & CREATE_NEW_PROCESS_GROUP
    # CREATE_NO_WINDOW is ignored beside these, says the same page
    assert not flags & (DETACHED_PROCESS | CREATE_NEW_CONSOLE)
    assert "start_new_session" not in asked.kwargs  # an error there


@pytest.mark.parametrize("platform", ["darwin", "linux"])
def test_elsewhere_it_has_a_session_of_its_own(
    platform: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = started_on(platform, tmp_path, monkeypatch)
    assert asked.kwargs["start_new_session"] is True
    assert "creationflags" not in asked.kwargs  # an error there


@pytest.mark.parametrize("platform", ["win32", "darwin", "linux"])
def test_it_waits_for_no_key_and_writes_to_no_console(
    platform: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = started_on(platform, tmp_path, monkeypatch)
    assert asked.kwargs["stdin"] is subprocess.DEVNULL
    assert asked.kwargs["stderr"] is subprocess.STDOUT
    assert Path(asked.kwargs["stdout"].name).parent == tmp_path
    assert asked.kwargs.get("close_fds", True)  # the desk's port must be free when it has ended
    assert asked.command[0] == sys.executable
    assert f"--remote={tmp_path}" in asked.command


@pytest.mark.skipif(sys.platform == "win32", reason="no sessions there")
def test_a_real_one_leads_its_own_session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal sends Ctrl-C and its end to the session that it belongs to (POSIX, ch. 11)."""
    (tmp_path / STOP_FILE).touch()  # of a recording before this one: must not end it
    told = "import os; print(os.getsid(0) == os.getpid(), os.getpgrp() == os.getpid())"
    processes: list[subprocess.Popen[bytes]] = []
    real = subprocess.Popen

    def other_program(command: list[str], **kwargs: Any) -> subprocess.Popen[bytes]:
        processes.append(real([command[0], "-c", told], **kwargs))
        return processes[0]

    monkeypatch.setattr(subprocess, "Popen", other_program)
    RecordingWatch(tmp_path).start("monday", [], {})
    assert processes[0].wait(20.0) == 0
    assert (tmp_path / "said.txt").read_text().split() == ["True", "True"]
    assert os.getsid(0) != processes[0].pid
    assert not (tmp_path / STOP_FILE).exists()
