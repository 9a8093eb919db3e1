"""A table with one value a row (time, name, value), read as one with a column for each name."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from logger.errors import TelemetryError
from logger.importing.tables.column_names import (
    TIME,
    ColumnName,
    kinds_of,
    plain_words,
    read_column_name,
)
from logger.importing.tables.number_text import finite_number, split_unit
from logger.importing.tables.row_kinds import is_readable, is_unit_row
from logger.importing.tables.table_head import Head
from logger.importing.tables.table_shape import Table
from logger.importing.tables.units import bare_unit

# judgement: shares and counts that part a column of names from one of remarks. A log has fewer
# signals than this, and each comes again and again; a column of times or values is hardly empty.
_MOST_NAMES = 500
_LEAST_SHARE = 0.9
_LEAST_VALUES = 0.5  # gears and states stand among the numbers
_FEWEST_TIMES_EACH = 2
_SAMPLE_ROWS = 2000
_NAME_WORDS = re.compile(
    r"(signal|key|channel|parameter|sensor|variable|quantity|pid|item|measurement|description)?"
    r"( ?name)?|bezeichnung|kanal|messgroesse|nom|nombre|nome|параметр|名称|名前|信号|チャンネル"
)
_VALUE_WORDS = re.compile(
    r"value|val|reading|data|wert|messwert|valeur|valor|valore|waarde|wartosc|значение|数值|值|値"
)
_MOST_LINES_IN_BLOCKS = 500_000  # judgement: they are sorted in memory, which this bounds


@dataclass(frozen=True, slots=True, kw_only=True)
class _Places:
    """Which column holds what; ``unit`` is None where no column holds units."""

    time: int
    name: int
    value: int
    unit: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LongTable(Table):
    """A table in long form, its rows given in wide form: time first, then a cell for each name."""

    places: _Places
    names: tuple[str, ...]
    has_blocks: bool
    units_in_cells: frozenset[str]

    def rows(self) -> Iterator[list[str]]:
        """Yield one row for each time, or for each time a name comes again."""
        return _sorted_blocks(self) if self.has_blocks else _merged(self)

    def spread_rows(self, count: int) -> Iterator[list[str]]:
        """Yield rows that hold about ``count`` cells of each name, whatever their time."""
        kept: dict[str, list[str]] = {name: [] for name in self.names}
        times: list[str] = []
        for time, name, value in _triples(self):
            cells = kept.get(name)
            if cells is not None and len(cells) < count:
                cells.append(value)
                times.append(time)
        step = max(1, len(times) // count)
        times = times[::step]
        for at in range(max(len(times), *(len(cells) for cells in kept.values()))):
            cells = [kept[name][at] if at < len(kept[name]) else "" for name in self.names]
            yield [times[at] if at < len(times) else "", *cells]


def read_long_form(path: str, table: Table, time_column: str | None) -> LongTable | None:
    """Give the table in wide form, or None where it has a column for each quantity already.

    Raises
    ------
    TelemetryError
        It has too many names or rows to be read this way.
    """
    places = _places(table, time_column)
    if places is None:
        return None
    units: dict[str, set[str]] = {}
    changes = lines = 0
    before = ""
    for row in table.rows():
        name = _cell(row, places.name)
        if not name or not _cell(row, places.value):
            continue
        told = units.setdefault(name, set())
        if places.unit is not None:
            told.add(bare_unit(_cell(row, places.unit)))
        changes += name != before
        before, lines = name, lines + 1
        if len(units) > _MOST_NAMES:
            return None
    has_blocks = changes < 2 * len(units)
    if has_blocks and lines > _MOST_LINES_IN_BLOCKS:
        raise TelemetryError(
            f"{path} holds one value a row, one quantity after the other, in more than "
            f"{_MOST_LINES_IN_BLOCKS:,} rows; export it with a column for each quantity"
        )
    names = tuple(units)
    head = table.head
    title = head.columns[places.name].text or f"column {places.name + 1}"
    wide = Head(
        columns=(
            replace(head.columns[places.time], above="", below=""),
            *(
                read_column_name(name, "".join(told) if len(told) == 1 else "")
                for name, told in units.items()
            ),
        ),
        first_data_row=head.first_data_row,
        notes=(
            *head.notes,
            f'The file holds one value a row; the names in its column "{title}" were taken for '
            "columns.",
        ),
    )
    return LongTable(
        lines=table.lines,
        delimiter=table.delimiter,
        decimal=table.decimal,
        head=wide,
        places=places,
        names=names,
        has_blocks=has_blocks,
        units_in_cells=frozenset(name for name in names if len(units[name]) > 1),
    )


def _cell(row: Sequence[str], index: int) -> str:
    return row[index].strip() if index < len(row) else ""


def _places(table: Table, time_column: str | None) -> _Places | None:
    """Find out which column holds what; None where the table is not in long form."""
    heads = table.head.columns
    if len(heads) < 3 or any(kind != TIME for head in heads for kind in kinds_of(head)):
        return None  # a column is one of a quantity by its own name
    sample = list(table.spread_rows(_SAMPLE_ROWS))
    columns = [[_cell(row, index) for row in sample] for index in range(len(heads))]
    words = [index for index, cells in enumerate(columns) if _is_words(cells)]
    units = [index for index in words if is_unit_row([*dict.fromkeys(columns[index])])]
    names = [index for index in words if index not in units]
    if not names:
        return None
    name = max(names, key=lambda index: (_names_quantities(columns[index]), -index))
    numbers = [
        index
        for index, cells in enumerate(columns)
        if index not in words
        and sum(map(is_readable, cells)) >= _LEAST_VALUES * max(1, len(cells))
        and not _follows(cells, columns[name])
    ]
    time = _time_place(heads, numbers, time_column)
    values = [index for index in numbers if index != time]
    if len(values) > 1:
        values = [index for index in values if _is_titled(heads[index], _VALUE_WORDS)]
    if time is None or len(values) != 1:
        return None
    is_clear = (
        _names_quantities(columns[name])
        or _is_titled(heads[name], _NAME_WORDS)
        or _is_titled(heads[values[0]], _VALUE_WORDS)
    )
    unit = units[0] if len(units) == 1 else None
    places = _Places(time=time, name=name, value=values[0], unit=unit)
    return places if is_clear else None


def _is_words(cells: Sequence[str]) -> bool:
    filled = [cell for cell in cells if cell]
    each = set(filled)
    words = len(filled) - sum(map(is_readable, filled))
    return (
        len(filled) >= _LEAST_SHARE * len(cells)
        and words >= _LEAST_SHARE * len(filled)
        and 1 <= len(each) <= _MOST_NAMES
        and len(filled) >= _FEWEST_TIMES_EACH * len(each)
    )


def _names_quantities(cells: Sequence[str]) -> int:
    return sum(1 for cell in set(cells) if kinds_of(read_column_name(cell)))


def _follows(cells: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a column holds one cell for each name, as the number of a signal."""
    pairs = set(zip(names, cells, strict=True))
    return len(pairs) == len(set(names)) and len(pairs) > 1


def _time_place(
    heads: Sequence[ColumnName], numbers: Sequence[int], asked: str | None
) -> int | None:
    if asked is not None:
        wanted = " ".join(asked.split()).casefold()
        by_name = [at for at in numbers if heads[at].text.casefold() == wanted]
        by_number = [at for at in numbers if str(at + 1) == wanted]
        return next(iter(by_name or by_number), None)
    times = [at for at in numbers if TIME in kinds_of(heads[at])]
    return times[0] if len(times) == 1 else None


def _is_titled(head: ColumnName, words: re.Pattern[str]) -> bool:
    title = plain_words(head.text)
    return bool(title) and words.fullmatch(title) is not None


def _triples(table: LongTable) -> Iterator[tuple[str, str, str]]:
    places = table.places
    for row in Table.rows(table):  # as the file has them
        name, value = _cell(row, places.name), _cell(row, places.value)
        if name and value:
            if name in table.units_in_cells and places.unit is not None:
                value = f"{value} {_cell(row, places.unit)}"
            yield _cell(row, places.time), name, value


def _merged(table: LongTable) -> Iterator[list[str]]:
    place = {name: at for at, name in enumerate(table.names, start=1)}
    row: list[str] = []
    for time, name, value in _triples(table):
        at = place[name]
        if not row or time != row[0] or row[at]:
            if row:
                yield row
            row = [time, *([""] * len(place))]
        row[at] = value
    if row:
        yield row


def _sorted_blocks(table: LongTable) -> Iterator[list[str]]:
    """Lay the blocks of the names side by side by their times."""
    place = {name: at for at, name in enumerate(table.names, start=1)}
    rows: dict[tuple[str, int], dict[int, str]] = {}
    seen: dict[tuple[str, str], int] = {}
    for time, name, value in _triples(table):
        again = seen.get((time, name), 0)  # the same time for the same name: a coarse clock
        seen[time, name] = again + 1
        rows.setdefault((time, again), {})[place[name]] = value
    for (time, _), cells in sorted(rows.items(), key=lambda item: _moment(item[0][0], table)):
        yield [time, *(cells.get(at, "") for at in range(1, len(place) + 1))]


def _moment(time: str, table: LongTable) -> tuple[float, str]:
    text = split_unit(time)[0].replace(table.decimal, ".")
    value = finite_number(text)
    return (value, "") if value == value else (0.0, text)  # a clock of one day sorts as text
