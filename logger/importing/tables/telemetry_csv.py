"""The importer for tables: text or a spreadsheet, in any usual shape."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from logger.errors import TelemetryError
from logger.folder.quantities import COLUMNS
from logger.folder.text_decoding import read_text
from logger.importing.request import ColumnReport, ImportedTelemetry, TelemetryOptions
from logger.importing.tables.column_choice import ColumnChoice, choose_columns
from logger.importing.tables.column_names import KINDS, RPM, SPEED, TIME, ColumnName
from logger.importing.tables.column_reading import Column, read_columns
from logger.importing.tables.encodings import guess_encoding
from logger.importing.tables.log_start import LogStart, is_date_column, local_start, start_of_log
from logger.importing.tables.long_form import read_long_form
from logger.importing.tables.row_kinds import is_readable
from logger.importing.tables.row_order import OrderedRows, order_rows
from logger.importing.tables.spreadsheet import is_spreadsheet, read_sheet
from logger.importing.tables.table_shape import Table, read_table
from logger.importing.tables.time_columns import (
    Times,
    first_finite,
    times_from_clock,
    times_from_numbers,
)
from logger.importing.tables.time_text import clock_seconds, iso_seconds, iso_time

# judgement: enough to know a unit by its size; more only cost time.
_SAMPLE_ROWS = 400
_FEWEST_ROWS = 2
_LONG_GAP_S = 2.0  # judgement: rpm can go up and down again meanwhile; longer gaps are told


class CsvImporter:
    """Reads CSV and xlsx as loggers, phones and spreadsheets write them."""

    name = "csv"

    def recognises(self, path: Path) -> bool:
        """Take every file; the last resort."""
        return path.is_file()

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        """Read one file.

        Raises
        ------
        TelemetryError
            It holds no drive, or needs an option to be understood.
        """
        if is_spreadsheet(path):  # by its first bytes: people rename files
            text, options = read_sheet(path, options.worksheet), replace(options, delimiter="tab")
        else:
            text = read_text(path, options.encoding, guess_encoding)
        table = read_table(path, text, options)
        if (long_form := read_long_form(str(path), table, options.time_column)) is not None:
            # its time is first now, wherever it stood when somebody named it
            table, options = long_form, replace(options, time_column="1")
        head = table.head
        names = head.columns
        rows = list(table.spread_rows(_SAMPLE_ROWS))
        cells = [[row[at] if at < len(row) else "" for row in rows] for at in range(len(names))]
        shares = [sum(map(is_readable, each)) / max(1, len(each)) for each in cells]
        choice = choose_columns(path, names, options, shares)
        columns = read_columns(table, choice, cells, options)
        time_column = columns.pop(TIME)
        times = _times(time_column, options)
        is_clock = time_column.reader is clock_seconds and not times.is_relative
        order = order_rows(times.seconds, np.column_stack([c.values for c in columns.values()]))
        start = _start(table, cells, time_column, times, options.date_order, is_clock=is_clock)
        frame, time_dropped = _frame(columns, order)
        _refuse_too_little(path, columns, frame)
        # a clock is taken to begin with the first row that is kept; the file's own seconds stay
        origin_s = 0.0 if times.is_relative else float(frame[TIME].iloc[0])
        late_s = 0.0 if times.is_relative else origin_s - first_finite(times.seconds)
        moment = start.moment and start.moment + timedelta(seconds=late_s)
        frame[TIME] = frame[TIME] - origin_s + options.time_offset_s
        time_notes = (*times.notes, *order.notes, *_time_notes(time_column, times, frame))
        return ImportedTelemetry(
            frame=frame,
            columns=tuple(_reports(names, choice, times, columns, frame, time_dropped)),
            start=moment,
            notes=(*head.notes, *time_notes, *start.notes),
            start_question=start.question,
            assumed_time_unit=times.unit if times.is_assumed else "",
            clock_s=first_finite(time_column.values) if is_clock and moment is None else None,
        )


def _times(column: Column, options: TelemetryOptions) -> Times:
    if not np.isfinite(column.values).any():
        raise TelemetryError(
            f'no row of the time column "{column.choice.name.text}" can be read; '
            "say another --time-column"
        )
    if column.reader is not None:
        return times_from_clock(
            column.values, column.reader, has_zone=column.has_zone, asked=options.time_unit
        )
    return times_from_numbers(
        column.values,
        column=column.choice.name.text or f"column {column.choice.index + 1}",
        unit=column.unit or column.choice.name.unit,
        asked=options.time_unit,
        strange="" if column.unit else column.choice.open_unit,
    )


def _start(
    table: Table,
    sample: Sequence[Sequence[str]],
    time_column: Column,
    times: Times,
    date_order: str | None,
    *,
    is_clock: bool,
) -> LogStart:
    """Find out when the first row was written."""
    if times.start is not None:
        return LogStart(moment=times.start)
    cells = sample[time_column.choice.index]
    stamps = (stamp for cell in cells if (stamp := iso_time(cell)) is not None)
    if time_column.reader is iso_seconds and (first := next(stamps, None)) is not None:
        return local_start(first.replace(tzinfo=None))
    dated = [
        cell
        for index, name in enumerate(table.head.columns)
        if is_date_column(name.text) and index != time_column.choice.index
        for cell in sample[index]
    ]
    return start_of_log(
        dated or (cells if is_clock else []),
        [line for line in table.lines[: table.head.first_data_row] if line.strip()],
        first_finite(time_column.values) if is_clock else None,
        date_order,
    )


def _frame(columns: dict[str, Column], order: OrderedRows) -> tuple[pd.DataFrame, dict[str, int]]:
    """Put the rows that hold anything together; also why rows were left out, and how many."""
    told = {name: columns[name].values[order.rows] for name in COLUMNS if name in columns}
    frame = pd.DataFrame({TIME: order.times_s, **told})
    holds_any = frame[[*told]].notna().any(axis=1)
    empty = int((~holds_any).sum())
    dropped = {**order.dropped, **({"row holds no value": empty} if empty else {})}
    return frame[holds_any].reset_index(drop=True), dropped


def _refuse_too_little(path: Path, columns: dict[str, Column], frame: pd.DataFrame) -> None:
    main = RPM if RPM in columns else SPEED
    good = int(frame[main].count())
    if good < _FEWEST_ROWS:
        why, option = _told(columns[main].dropped), KINDS[main].option
        raise TelemetryError(
            f"{path} has {good} usable rows with time and {option}"
            f"{f' ({why})' if why else ''}; choose another file, or give --time-column and "
            f"--{option}-column"
        )


def _reports(
    names: Sequence[ColumnName],
    choice: ColumnChoice,
    times: Times,
    columns: dict[str, Column],
    frame: pd.DataFrame,
    time_dropped: dict[str, int],
) -> Iterator[ColumnReport]:
    chosen = {each.index: each for each in choice.chosen}
    for index, name in enumerate(names):
        meaning, unit, kept, dropped = "", name.unit, 0, dict[str, int]()
        why = choice.unused.get(index, "not used")
        if index in chosen:
            meaning = chosen[index].meaning
            kept = int(frame[meaning].count())
            unit, dropped = times.unit, time_dropped
            if meaning != TIME:
                unit, dropped = chosen[index].unit.name, dict(columns[meaning].dropped)
                in_file = int(np.isfinite(columns[meaning].values).sum())
                if in_file > kept:
                    dropped["row has no usable time"] = in_file - kept
            why = _told(dropped)
        elif not name.text:
            continue  # what a delimiter at the end of each line leaves
        yield ColumnReport(
            column=name.text or f"column {index + 1}",
            meaning=meaning,
            unit=unit,
            rows_kept=kept,
            rows_dropped=sum(dropped.values()),
            why=why,
        )


def _told(dropped: dict[str, int]) -> str:
    return ", ".join(f"{reason}: {count}" for reason, count in dropped.items())


def _time_notes(time_column: Column, times: Times, frame: pd.DataFrame) -> tuple[str, ...]:
    notes = []
    if not times.is_relative:
        notes.append(
            f'"{time_column.choice.name.text or "time"}" is a clock; its first row is taken as the '
            "start of the sound, and the true offset is measured later, if the sound shows it."
        )
    times_s = frame[TIME].to_numpy()
    steps_s = np.diff(times_s)
    longest = int(np.argmax(steps_s))
    if steps_s[longest] > max(_LONG_GAP_S, 5.0 * float(np.median(steps_s))):
        notes.append(
            f"The longest gap between rows is {steps_s[longest]:.1f} s, "
            f"from {times_s[longest]:.1f} s on."
        )
    return tuple(notes)
