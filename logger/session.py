"""A session folder: metadata, sound and telemetry of one drive, read and written.

This is the only module of the logger that knows the analysis: it joins sound and telemetry into
an :class:`analysis.drive.Drive`. The format is described in ``SESSION_FORMAT.md`` beside it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pandas as pd

from analysis.drive import Drive, Engine, Trouble

__all__ = [
    "Session",
    "SessionContent",
    "SessionMetadata",
    "Trouble",
    "read_session",
    "write_session",
]

FORMAT_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionMetadata:
    """What ``session.json`` says.

    Attributes
    ----------
    start_time_utc : datetime or None
        With a time zone; None when nobody knows.
    devices : mapping of str to str
        What recorded what: ``{"sound": "cabin.wav", "telemetry": "obd:/dev/ttyUSB0"}``.
    full_scale_db_spl : float or None
        Sound pressure level of a full-scale sine, when the chain was calibrated.
    car : mapping or None
        The car file as plain data.
    notes : tuple of str
        Assumptions made while importing, one sentence each.
    """

    name: str
    start_time_utc: datetime | None = None
    devices: Mapping[str, str] = field(default_factory=dict)
    full_scale_db_spl: float | None = None
    car: Mapping[str, object] | None = None
    cylinders: int | None = None
    stroke_cycle: int = 4
    trouble: tuple[Trouble, ...] = ()
    notes: tuple[str, ...] = ()
    software_version: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionContent:
    """What goes into a new session folder.

    Attributes
    ----------
    telemetry : pandas.DataFrame or None
        The columns of :class:`analysis.drive.Drive`; None when there is none.
    write_audio : callable or None
        Called with the folder; writes ``audio.wav`` (then ``audio-2.wav``, ...) into it.
    """

    metadata: SessionMetadata
    telemetry: pd.DataFrame | None = None
    write_audio: Callable[[Path], None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session folder as it was read; the sound stays in its files.

    Attributes
    ----------
    telemetry : pandas.DataFrame
        Rows in the order of ``time_s``; no rows when the session has no telemetry.
    audio_files : tuple of Path
        In order; empty for a session of levels only.
    sample_rate_hz : float or None
    channel_count : int
        0 without sound.
    """

    path: Path
    metadata: SessionMetadata
    telemetry: pd.DataFrame
    audio_files: tuple[Path, ...]
    sample_rate_hz: float | None
    channel_count: int
    frame_count: int

    def drive(self, *, channel: int = 1, engine: Engine | None = None) -> Drive:
        """Join sound and telemetry; ``channel`` counts from 1.

        ``engine`` overrules what the session says.

        Raises
        ------
        SessionError
            There is no such channel.
        """
        raise NotImplementedError


def read_session(path: Path) -> Session:
    """Read a session folder, also one that was killed half-way.

    Raises
    ------
    SessionError
        It is no session folder, is damaged, or comes from a newer version.
    """
    raise NotImplementedError


def write_session(out: Path, content: SessionContent, *, overwrite: bool = False) -> None:
    """Write a new session folder, whole or not at all.

    Raises
    ------
    SessionError
        ``out`` exists, or cannot be written.
    """
    raise NotImplementedError
