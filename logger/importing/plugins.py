"""Importers for telemetry files, ours and other people's: one contract for all.

A package adds one with an entry point of the group ``pipenote.importers``::

    [project.entry-points."pipenote.importers"]
    mylog = "mypackage:MyLogImporter"

The object is an importer, or a class that gives one when called without arguments.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Protocol, runtime_checkable

import numpy as np
import pandas as pd

from logger.errors import LoggerError, TelemetryError
from logger.folder.telemetry_file import telemetry_fault
from logger.importing.request import ColumnReport, ImportedTelemetry, TelemetryOptions
from logger.importing.tables.telemetry_csv import CsvImporter
from logger.importing.tracks.gpx import GpxImporter
from logger.importing.tracks.nmea_log import NmeaImporter
from logger.software import load_added, others_code

ENTRY_POINT_GROUP = "pipenote.importers"


@runtime_checkable
class TelemetryImporter(Protocol):
    """What every importer does."""

    name: str

    def recognises(self, path: Path) -> bool:
        """Say whether the file is of this kind; a look at its first bytes, never an error."""

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        """Read the file, leaving it as it is.

        Raises
        ------
        TelemetryError
            The file cannot be used or needs an option; one line that says what to do.
        """


_BUILT_IN: tuple[TelemetryImporter, ...] = (GpxImporter(), NmeaImporter(), CsvImporter())


def read_telemetry_file(
    path: Path,
    options: TelemetryOptions,
    *,
    importer: str | None,
    installed: Iterable[EntryPoint] | None = None,
) -> ImportedTelemetry:
    """Read a telemetry file with the importer asked for, or the one that knows it.

    ``installed`` are other people's importers; None takes those on this machine.

    Raises
    ------
    TelemetryError
        There is no such importer, several know the file, or the one that does refuses it.
    """
    points = entry_points(group=ENTRY_POINT_GROUP) if installed is None else installed
    chosen, broken = _choose(path, importer, tuple(points))
    if chosen in _BUILT_IN:
        try:
            telemetry = chosen.read(path, options)
        except TelemetryError as error:  # one that is broken may be what is missing
            raise TelemetryError("; and ".join((str(error), *broken))) from error
    else:
        with others_code(lambda why: _failed(chosen.name, f"it stopped with {why}")):
            telemetry = chosen.read(path, options)
            check_telemetry(chosen.name, telemetry)
    return replace(telemetry, notes=(*telemetry.notes, *broken))


def check_telemetry(importer: str, telemetry: object) -> None:
    """Refuse what breaks the contract of :class:`ImportedTelemetry`.

    Raises
    ------
    TelemetryError
        It is something else, has no row, a column no session has, a time that does not rise,
        infinite values, or an account of it that cannot be shown or kept.
    """
    if not isinstance(telemetry, ImportedTelemetry):
        raise _failed(importer, f"it gave no ImportedTelemetry but {type(telemetry).__name__}")
    frame = telemetry.frame
    if not isinstance(frame, pd.DataFrame):
        raise _failed(importer, f"its frame is no table but {type(frame).__name__}")
    if not {"rpm", "road_speed_m_s"} & set(frame.columns):
        fault = "neither rpm nor road speed"
    elif frame.empty:
        fault = "no row"
    elif any(dtype != np.float64 for dtype in frame.dtypes):
        fault = "columns that are not float64"
    else:
        fault = telemetry_fault(frame) or _fault_of_account(telemetry)
    if fault:
        raise _failed(importer, f"it gave {fault}")


def _fault_of_account(telemetry: ImportedTelemetry) -> str:
    start, notes, columns = telemetry.start, telemetry.notes, telemetry.columns
    if start is not None and (not isinstance(start, datetime) or start.tzinfo is None):
        return "a start that is no time with its time zone"
    if not isinstance(notes, tuple) or not all(isinstance(note, str) for note in notes):
        return "notes that are no tuple of texts"
    if not isinstance(columns, tuple) or not all(isinstance(one, ColumnReport) for one in columns):
        return "columns that are no tuple of ColumnReport"
    is_text = all(
        isinstance(text, str)
        for one in columns
        for text in (one.column, one.meaning, one.unit, one.why)
    )
    return "" if is_text else "a ColumnReport that is no text"


def _failed(importer: str, problem: str) -> TelemetryError:
    return TelemetryError(
        f"the importer {importer} failed: {problem}; update it, or give --importer csv"
    )


def _choose(
    path: Path, importer: str | None, installed: tuple[EntryPoint, ...]
) -> tuple[TelemetryImporter, tuple[str, ...]]:
    """Give the importer to use, and what is wrong with those that could not be asked."""
    if importer is not None:
        everybody: tuple[TelemetryImporter | EntryPoint, ...] = (*_BUILT_IN, *installed)
        asked = next((each for each in everybody if each.name == importer), None)
        if asked is None:
            known = ", ".join(each.name for each in everybody)
            raise TelemetryError(
                f"there is no importer {importer}; give --importer, one of: {known}"
            )
        return load_importer(asked) if isinstance(asked, EntryPoint) else asked, ()
    found, broken = [], []
    for point in installed:
        try:
            each = load_importer(point)
            found += [each] if _recognises(each, path) else []
        except LoggerError as error:  # it must not stand in the way of the others
            broken.append(str(error))
    if len(found) > 1:
        names = " or ".join(each.name for each in found)
        raise TelemetryError(f"several importers know {path}; give --importer {names}")
    # another package's goes before ours, the last of which takes any file
    own = next(each for each in _BUILT_IN if each.recognises(path))
    return found[0] if found else own, tuple(broken)


def _recognises(importer: TelemetryImporter, path: Path) -> bool:
    with others_code(lambda why: _failed(importer.name, f"it stopped with {why}")):
        return bool(importer.recognises(path))


def load_importer(point: EntryPoint) -> TelemetryImporter:
    """Load another package's importer."""

    def make(loaded: object) -> TelemetryImporter:
        made = loaded() if isinstance(loaded, type) else loaded
        if not isinstance(made, TelemetryImporter) or not isinstance(made.name, str):
            raise TelemetryError(
                f"the importer {point.name} lacks name, recognises or read; update or remove it"
            )
        return made

    cure = "install its package again, or remove it"
    return load_added(point, make, TelemetryError, "importer", cure)
