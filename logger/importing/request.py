"""What an import is asked for, and what it tells about what it understood."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from logger.folder.sound_reading import SoundFacts

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class TelemetryOptions:
    """What a person says about a telemetry file where its own text is not enough.

    A column is named as in the file's header (case and spaces do not matter) or by its number,
    counted from 1; the rpm column may be ``none``. ``None`` everywhere means: find out.

    Attributes
    ----------
    time_unit : str or None
        ``s``, ``ms``, ``us``, ``ns``, ``min``, ``h`` or ``day``, or a multiple of one such as
        ``0.1 s``; of times such as 10:05, ``min:s`` or ``h:min``.
    time_offset_s : float
        Added to every time of the file, to bring it to the sound's clock by hand.
    rpm_unit : str or None
        ``rpm``, ``rev/s``, ``1000 rpm``, ``rad/s``, or a multiple of one such as ``0.25 rpm``.
    speed_unit : str or None
        ``km/h``, ``mph``, ``m/s`` or ``kn``.
    level_weighting : str or None
        ``A``, ``C`` or ``Z``.
    delimiter : str or None
        ``comma``, ``semicolon``, ``tab``, ``pipe`` or ``space``, or the sign itself.
    decimal : str or None
        ``point`` or ``comma``, or the sign itself.
    date_order : str or None
        ``dmy`` or ``mdy``, where a date such as 06/08/2025 is open.
    worksheet : str or None
        A sheet of a spreadsheet, by its name or its number, counted from 1.
    """

    time_column: str | None = None
    time_unit: str | None = None
    time_offset_s: float = 0.0
    rpm_column: str | None = None
    rpm_unit: str | None = None
    speed_column: str | None = None
    speed_unit: str | None = None
    level_column: str | None = None
    level_weighting: str | None = None
    load_column: str | None = None
    throttle_column: str | None = None
    manifold_pressure_column: str | None = None
    coolant_column: str | None = None
    catalyst_column: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    encoding: str | None = None
    date_order: str | None = None
    worksheet: str | None = None

    def told(self, option: str, what: str) -> str | None:
        """Give what was said with ``--OPTION-WHAT``; None where nothing was, or there is none."""
        text: str | None = getattr(self, f"{option.replace('-', '_')}_{what}", None)
        return text


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportRequest:
    """One import: the files, what they belong to, and what to know about them.

    Attributes
    ----------
    audio, telemetry : tuple of Path
        At least one file of either is needed. Several of sound are parts of one recording in
        their order; several of telemetry are laid on one clock.
    second_audio : Path or None
        What another recorder heard of the same drive; becomes further channels.
    time_offsets_s : tuple of float
        Added to the times of each telemetry file: none, one for all, or one for each.
    channel : int or None
        Keep only this channel of the sound, counted from 1; None keeps all.
    tail_channel : int or None
        Which of all channels is of a microphone near the tailpipe, those of a second recorder
        counted behind the first one's.
    name : str or None
        Name of the session; None takes the name of the folder.
    started : datetime or None
        When the drive began, with its time zone; None takes what the telemetry tells.
    car : mapping or None
        The car file as read by :mod:`tomllib`.
    importer : str or None
        Name of a telemetry importer (see :mod:`logger.importing.plugins`); None finds out.
    full_scale_db_spl : float or None
        Sound pressure level of a full-scale sine, when the chain was calibrated.
    response : tuple of (float, float)
        Frequency in Hz and dB that the microphone shows too much there; may be empty.
    """

    audio: tuple[Path, ...] = ()
    telemetry: tuple[Path, ...] = ()
    second_audio: Path | None = None
    time_offsets_s: tuple[float, ...] = ()
    channel: int | None = None
    tail_channel: int | None = None
    name: str | None = None
    started: datetime | None = None
    car: Mapping[str, object] | None = None
    cylinders: int | None = None
    stroke_cycle: int | None = None
    full_scale_db_spl: float | None = None
    response: tuple[tuple[float, float], ...] = ()
    importer: str | None = None
    options: TelemetryOptions = field(default_factory=TelemetryOptions)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnReport:
    """One row of the table that shows what was understood of one column.

    ``meaning`` is the name of the column in the session, or empty where the column is not used;
    then ``why`` says the reason. ``rows_kept`` counts values, ``rows_dropped`` values left out,
    and ``why`` how many for which reason.
    """

    column: str
    meaning: str
    unit: str
    rows_kept: int
    rows_dropped: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedTelemetry:
    """What an importer gives: the session's columns, and how it came to them.

    Attributes
    ----------
    frame : pandas.DataFrame
        ``time_s`` (finite, strictly rising), ``rpm`` or ``road_speed_m_s``, and any further column
        of a session, all float64; a missing value is NaN.
    columns : tuple of ColumnReport
        Every column of the file, in the file's order.
    start : datetime or None
        When the first row was logged, with a time zone, if the file says so.
    start_question : str
        What a person must say for the start to be known, naming the option; mostly empty.
    assumed_time_unit : str
        What the times were taken to be in where the file names no unit; mostly empty.
    clock_s : float or None
        Time of day of the first row in seconds, where the file tells no date.
    notes : tuple of str
        Assumptions, one sentence each.
    """

    frame: pd.DataFrame
    columns: tuple[ColumnReport, ...] = ()
    start: datetime | None = None
    start_question: str = ""
    assumed_time_unit: str = ""
    clock_s: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportSummary:
    """What an import understood, for a person to confirm.

    Attributes
    ----------
    session : Path
        The new session folder.
    columns : tuple of ColumnReport
        Empty without telemetry.
    sound : SoundFacts or None
        Of the file as it was, before ``channel`` was picked.
    notes : tuple of str
        Assumptions, one sentence each.
    """

    session: Path
    name: str
    columns: tuple[ColumnReport, ...]
    telemetry_rows: int
    sound: SoundFacts | None
    notes: tuple[str, ...]

    def document(self) -> dict[str, object]:
        """Give the same as plain data for a program."""
        return {"schema": 1, **asdict(self), "session": str(self.session)}
