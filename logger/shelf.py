"""A folder of session folders: every one that can be read, and why the others cannot."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from logger.errors import LoggerError, SessionError
from logger.folder.harmless import harmless
from logger.folder.names import METADATA_FILE, TELEMETRY_FILE, audio_file_name
from logger.session import Session, read_session

# One of these makes a folder a session, or what is left of one.
_SIGNS = (METADATA_FILE, TELEMETRY_FILE, audio_file_name(1))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelvedSession:
    """A session that goes by the name of its folder; ``note`` is its own name, where it differs."""

    session: Session
    note: str

    @property
    def name(self) -> str:
        """Name of its folder, as it can be shown."""
        return self.session.metadata.name

    @property
    def start_time_utc(self) -> datetime | None:
        """When it started; None when nobody knows."""
        return self.session.metadata.start_time_utc

    @property
    def start_is_of_file(self) -> bool:
        """Whether that time is only when a file was last written."""
        return self.session.metadata.start_time_from == "file"

    @property
    def car(self) -> Mapping[str, object] | None:
        """The car file as plain data."""
        return self.session.metadata.car


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Sessions side by side, in no order; ``unreadable`` is (name of the folder, why)."""

    sessions: tuple[ShelvedSession, ...]
    unreadable: tuple[tuple[str, str], ...]


def read_shelf(folder: Path) -> Shelf:
    """Read every session folder in ``folder``; their sound stays in the files.

    Raises
    ------
    SessionError
        There is no such folder, or it is a session itself.
    """
    if (folder / METADATA_FILE).is_file():
        raise SessionError(f"{folder} is one session; give the folder that holds your sessions")
    try:
        inside = sorted(folder.iterdir())
    except OSError as error:
        raise SessionError(
            f"cannot look into {folder}: {error.strerror or error}; give the folder that holds "
            "your sessions"
        ) from error
    sessions: list[ShelvedSession] = []
    unreadable: list[tuple[str, str]] = []
    for path in inside:
        try:
            if _is_session(path):
                sessions.append(_shelved(read_session(path)))
        except (LoggerError, OSError) as error:  # a folder that may not be looked into
            why = f"cannot read {path}: {error.strerror}" if isinstance(error, OSError) else error
            unreadable.append((harmless(path.name), str(why)))
    return Shelf(sessions=tuple(sessions), unreadable=tuple(unreadable))


def _shelved(session: Session) -> ShelvedSession:
    name, own_name = harmless(session.path.name), session.metadata.name
    named = replace(session, metadata=replace(session.metadata, name=name))
    return ShelvedSession(session=named, note="" if own_name == name else own_name)


def _is_session(path: Path) -> bool:
    """Hidden folders are what another program, or a killed one of ours, left behind."""
    return not path.name.startswith(".") and any((path / sign).is_file() for sign in _SIGNS)
