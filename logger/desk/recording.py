"""The recording that the desk started: a process of its own, which outlives the desk.

It is found again by the files it renews; see :mod:`logger.screen.remote`.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Any

from logger.desk.kept_files import keep_document, read_document, texts_in
from logger.errors import LoggerError
from logger.screen.remote import MARK_FILE, STATUS_FILE, STOP_FILE
from logger.screen.terminal import FRONT_KEY

_STARTED_FILE, _SAID_FILE = "started.json", "said.txt"
_FRESH_S = 5.0  # judgement: ten times as long as between two of its signs
_STARTS_WITHIN_S = 20.0  # judgement: libraries, microphone and adapter take some seconds


class State(StrEnum):
    """What is known of the recording."""

    NONE = "none"
    STARTING = "starting"
    RECORDING = "recording"
    ENDED = "ended"
    SILENT = "silent"  # it should be there, and gives no sign


class AlreadyRecordingError(LoggerError):
    """There is one under way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """How the recording stands.

    ``status`` is what it last told, ``said`` its last words once it has ended. ``told`` is what the
    form said, where it ended before it had begun.
    """

    state: State
    drive: str = ""
    status: Mapping[str, Any] | None = None
    said: tuple[str, ...] = ()
    told: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_live(self) -> bool:
        """Whether it goes on."""
        return self.state in (State.STARTING, State.RECORDING)


class RecordingWatch:
    """The one recording of a folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def look(self) -> Seen:
        """Look at the files."""
        started = read_document(self._folder / _STARTED_FILE)
        if started is None:
            return Seen(state=State.NONE)
        drive = str(started.get("drive", ""))
        status_file = self._folder / STATUS_FILE
        status = read_document(status_file)
        if status is None:
            if self._age_s(_STARTED_FILE) < _STARTS_WITHIN_S and not self._complaint():
                return Seen(state=State.STARTING, drive=drive)
            told = texts_in(started.get("told"))
            return Seen(state=State.ENDED, drive=drive, said=self._complaint(), told=told)
        if status.get("state") == "ended":
            said = status.get("said", [])
            lines = tuple(map(str, said)) if isinstance(said, list) else ()
            return Seen(state=State.ENDED, drive=drive, said=lines)
        if self._age_s(STATUS_FILE) < _FRESH_S:
            return Seen(state=State.RECORDING, drive=drive, status=status)
        # it may have ended with a complaint, or been killed: what it wrote is in the folder
        state = State.ENDED if self._complaint() else State.SILENT
        return Seen(state=state, drive=drive, said=self._complaint())

    def start(self, drive: str, words: list[str], told: Mapping[str, str]) -> None:
        """Start ``pipenote record`` with these words, so that it outlives the desk.

        ``told`` is what the form said, kept in case it ends before it has begun.

        Raises
        ------
        AlreadyRecordingError
            One is under way.
        """
        seen = self.look()
        if seen.is_live:
            raise AlreadyRecordingError(f"{seen.drive} is being recorded; stop that first")
        self._folder.mkdir(parents=True, exist_ok=True)
        for name in (STATUS_FILE, MARK_FILE, STOP_FILE):
            (self._folder / name).unlink(missing_ok=True)
        command = [sys.executable, "-m", "pipenote", "record", "--plain"]
        command += [f"--remote={self._folder}", *words]
        with (self._folder / _SAID_FILE).open("wb") as said:
            subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=subprocess.STDOUT,
                env=os.environ | {FRONT_KEY: "desk"},
                **_apart(),
            )
        keep_document(self._folder / _STARTED_FILE, {"drive": drive, "told": dict(told)})

    def stop(self) -> None:
        """Ask it to save and stop."""
        (self._folder / STOP_FILE).touch()

    def mark(self) -> None:
        """Mark this moment."""
        (self._folder / MARK_FILE).touch()

    def _complaint(self) -> tuple[str, ...]:
        try:
            text = (self._folder / _SAID_FILE).read_text(encoding="utf-8", errors="replace")
        except OSError:
            return ()
        lines = [line for line in text.splitlines() if line.startswith("pipenote: ")]
        return tuple(line.removeprefix("pipenote: ") for line in lines[-1:])

    def _age_s(self, name: str) -> float:
        try:
            return time.time() - (self._folder / name).stat().st_mtime
        except OSError:
            return float("inf")


def _apart() -> dict[str, Any]:
    """Keep a process from hearing the Ctrl-C, or the closed window, that ends the desk."""
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW}
    return {"start_new_session": True}
