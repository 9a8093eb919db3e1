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
    """A session that goes by the name of its folder, as it can be shown.

    ``note`` is its own name, where that differs; ``start_is_of_file`` tells that its start is only
    when a file was last written.
    """

    session: Session
    name: str
    note: str
    start_time_utc: datetime | None
    start_is_of_file: bool
    car: Mapping[str, object] | None


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
    told, name = session.metadata, harmless(session.path.name)
    return ShelvedSession(
        session=replace(session, metadata=replace(told, name=name)),
        name=name,
        note="" if told.name == name else told.name,
        start_time_utc=told.start_time_utc,
        start_is_of_file=told.start_time_from == "file",
        car=told.car,
    )


def _is_session(path: Path) -> bool:
    """Hidden folders are what another program, or a killed one of ours, left behind."""
    return not path.name.startswith(".") and any((path / sign).is_file() for sign in _SIGNS)
