"""The chosen columns of a table as numbers in the session's units; asks for a unit left open."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NoReturn

import numpy as np

from logger.arrays import FloatArray
from logger.errors import TelemetryError
from logger.folder.quantities import LIMITS
from logger.importing.request import TelemetryOptions
from logger.importing.tables.column_choice import ALWAYS_ASKED, Choice, ColumnChoice
from logger.importing.tables.column_names import KINDS, RPM, SPEED, TIME, kind_of_own
from logger.importing.tables.number_text import Numbers, parse_numbers
from logger.importing.tables.table_shape import Table
from logger.importing.tables.time_text import TimeReader, find_time_reader, iso_seconds, iso_time
from logger.importing.tables.units import UNITS, find_unit

# judgement: no engine of a drive stays below it, and none of a road car reaches it in turns a
# second (it would be 24,000 rpm); a column that does is in thousands or in Hz, not in rpm
_SLOWEST_ENGINE_RPM = 400.0
# judgement: single wild values are left out, but a unit is in doubt where so many are
_MOST_TOO_FAST = 0.05
_ROWS_AT_ONCE = 20_000  # judgement: bounds the memory that cells of text take; moves no answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column as read, in the session's unit; of time as it stands, or seconds of a clock.

    ``dropped`` says how many values were left out for which reason; ``unit`` is the one that the
    cells themselves named, where they did.
    """

    choice: Choice
    values: FloatArray
    dropped: dict[str, int]
    unit: str = ""
    reader: TimeReader | None = None
    has_zone: bool = False


def read_columns(
    table: Table,
    choice: ColumnChoice,
    sample: Sequence[Sequence[str]],
    options: TelemetryOptions,
) -> dict[str, Column]:
    """Read the chosen columns; the rows are gone through once.

    Parameters
    ----------
    sample : sequence of sequence of str
        For each column of the table some cells from its first row to its last.

    Raises
    ------
    TelemetryError
        A unit must be given; the message names the option and what each unit would mean.
    """
    readers = [
        find_time_reader(sample[each.index]) if each.meaning == TIME else None
        for each in choice.chosen
    ]
    parts: list[list[Numbers]] = [[] for _ in choice.chosen]
    rows = table.rows()
    while chunk := list(islice(rows, _ROWS_AT_ONCE)):
        for place, each in enumerate(choice.chosen):
            index = each.index
            cells = [row[index] if index < len(row) else "" for row in chunk]
            reader = readers[place]
            parts[place].append(
                parse_numbers(cells, table.decimal) if reader is None else _clock(cells, reader)
            )
    return {
        each.meaning: _column(each, _joined(numbers), reader, sample[each.index], options)
        for each, numbers, reader in zip(choice.chosen, parts, readers, strict=True)
    }


def _clock(cells: Sequence[str], reader: TimeReader) -> Numbers:
    read = [reader(cell) for cell in cells]
    values = np.array([np.nan if value is None else value for value in read], dtype=np.float64)
    return Numbers(values=values, units={}, not_numbers=0)


def _joined(parts: Sequence[Numbers]) -> Numbers:
    units: dict[str, list[int]] = {}
    before = 0
    for part in parts:
        for unit, rows in part.units.items():
            units.setdefault(unit, []).extend(before + row for row in rows)
        before += part.values.size
    return Numbers(
        values=np.concatenate([part.values for part in parts]) if parts else np.empty(0),
        units=units,
        not_numbers=sum(part.not_numbers for part in parts),
    )


def _column(
    choice: Choice,
    numbers: Numbers,
    reader: TimeReader | None,
    sample: Sequence[str],
    options: TelemetryOptions,
) -> Column:
    if reader is not None:
        stamps = [time for cell in sample if (time := iso_time(cell)) is not None]
        has_zone = reader is iso_seconds and all(time.tzinfo is not None for time in stamps)
        return Column(
            choice=choice, values=numbers.values, dropped={}, reader=reader, has_zone=has_zone
        )
    scaled, unit, strangers = _in_session_units(choice, numbers, options)
    if choice.meaning == TIME:
        return Column(choice=choice, values=scaled, dropped={}, unit=unit)
    _ask_for_unit(choice, numbers, is_told=bool(unit), options=options)
    raw = np.where(np.isnan(scaled), np.nan, numbers.values)
    values, dropped = _possible(choice.meaning, raw, scaled)
    if choice.meaning == RPM:
        _refuse_no_engine(choice, numbers, values)
    not_numbers = numbers.not_numbers + strangers
    if not_numbers:
        dropped = {"not a number": not_numbers, **dropped}
    return Column(choice=choice, values=values, dropped=dropped, unit=unit)


def _in_session_units(
    choice: Choice, numbers: Numbers, options: TelemetryOptions
) -> tuple[FloatArray, str, int]:
    """Scale by the units in the cells, else by that of the column.

    Also gives the unit that the cells name, and how many named one that cannot be.
    """
    scaled: FloatArray = numbers.values * choice.unit.factor + choice.unit.offset
    kind = KINDS[kind_of_own(choice.meaning)]
    if not numbers.units or options.told(kind.option, "unit") is not None:
        return scaled, "", 0
    named, strangers = "", 0
    for text, rows in numbers.units.items():
        unit = find_unit(kind.quantity, text)
        if unit is None:
            strangers += len(rows)
            scaled[rows] = np.nan
            continue
        in_header = find_unit(kind.quantity, choice.name.unit) if choice.name.unit else unit
        if in_header is not None and not in_header.is_same(unit):
            cure = f"export it in one unit, or give another --{kind.option}-column"
            if choice.meaning in ALWAYS_ASKED:
                cure = f"give --{kind.option}-unit {in_header.name} or {unit.name}"
            raise TelemetryError(
                f'the {kind.option} column "{choice.name.text}" is in {in_header.name} by its name '
                f"and in {unit.name} by its cells; {cure}"
            )
        scaled[rows] = numbers.values[rows] * unit.factor + unit.offset
        named = named or unit.name
    return scaled, named, strangers


def _possible(
    meaning: str, raw: FloatArray, scaled: FloatArray
) -> tuple[FloatArray, dict[str, int]]:
    """Leave out marks for no value, in the file's unit, and what no car gives, in the session's.

    Gives the values with NaN for what was left out, and for which reason how many were.
    """
    limits = LIMITS[meaning]
    dropped: dict[str, int] = {}
    values = scaled.copy()
    for mark in KINDS[kind_of_own(meaning)].marks:
        is_mark = raw == mark
        if is_mark.any():
            dropped[f"{mark:.10g} is a mark for no value"] = int(is_mark.sum())
            values[is_mark] = np.nan
    outside = np.isfinite(values) & ((values < limits.low) | (values > limits.high))
    if outside.any():
        dropped[f"outside {limits.low:g} to {limits.high:g}"] = int(outside.sum())
        values[outside] = np.nan
    return values, dropped


def _ask_for_unit(
    choice: Choice, numbers: Numbers, *, is_told: bool, options: TelemetryOptions
) -> None:
    """Ask where neither name nor cells nor size of the numbers tell the unit."""
    if choice.meaning == SPEED and not choice.unit.name and not is_told:
        told = f"is in {choice.open_unit}" if choice.open_unit else "names no unit"
        _ask(choice, numbers, told, "m/s")
    if choice.meaning != RPM or is_told or options.rpm_unit is not None:
        return
    good = numbers.values[np.isfinite(numbers.values)]
    if choice.open_unit:
        _ask(choice, numbers, f"is in {choice.open_unit}, not rpm", "rpm")
    is_named = bool(choice.name.unit) or "rpm" in choice.name.words.split()
    most = LIMITS[RPM].high
    if not is_named and good.size and (good > most).mean() > _MOST_TOO_FAST:
        _ask(choice, numbers, f"goes beyond {most:g} rpm", "rpm")


def _refuse_no_engine(choice: Choice, numbers: Numbers, rpm: FloatArray) -> None:
    turning = rpm[rpm > 0.0]
    if turning.size and float(np.quantile(turning, 0.95)) < _SLOWEST_ENGINE_RPM:
        told = f"stays below {_SLOWEST_ENGINE_RPM:g} rpm, which is no running engine"
        _ask(choice, numbers, told, "rpm")


def _ask(choice: Choice, numbers: Numbers, told: str, unit_name: str) -> NoReturn:
    """Ask for a unit, and show what each would make of the values."""
    kind = KINDS[choice.meaning]
    good = numbers.values[np.isfinite(numbers.values)]
    low, high = (float(good.min()), float(good.max())) if good.size else (np.nan, np.nan)
    readings = ", ".join(
        f"{unit.name} ({_shown(unit.factor * low)} to {_shown(unit.factor * high)} {unit_name})"
        for unit in dict.fromkeys(UNITS[kind.quantity].values())
    )
    multiple = ', or a multiple such as "0.25 rpm"' if choice.meaning == RPM else ""
    name = choice.name.text or f"column {choice.index + 1}"
    raise TelemetryError(
        f'the {kind.option} column "{name}" {told}; give --{kind.option}-unit, one of '
        f"{readings}{multiple}, or another --{kind.option}-column"
    )


def _shown(value: float) -> str:
    """Write a number with four digits, and never with an exponent."""
    return f"{value:,.0f}" if abs(value) >= 1000.0 else f"{value:.4g}"
