"""The rows above a table's data: names, units, sources, channel numbers; where the data begin."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise, repeat

from logger.errors import TelemetryError
from logger.importing.tables.column_names import (
    KINDS,
    RPM,
    TIME,
    ColumnName,
    kinds_of,
    plain_words,
    read_column_name,
)
from logger.importing.tables.limit_rows import limit_row_count
from logger.importing.tables.row_kinds import filled_part, is_data, is_unit_row
from logger.importing.tables.units import bare_unit

# judgement: a channel number is smaller, and a logger has fewer channels
_CHANNELS = 1000
_MOST_HEAD_ROWS = 6  # judgement: names, units, sources, numbers, and two more
_ROWS_BELOW = 20  # judgement: enough to see how a column is written

Rows = Sequence[Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What stands above the data.

    Attributes
    ----------
    columns : tuple of ColumnName
        What is said of each column; empty texts where the file says nothing.
    first_data_row : int
        Counted from 0 over the rows of the probe.
    notes : tuple of str
        Assumptions, one sentence each.
    """

    columns: tuple[ColumnName, ...]
    first_data_row: int
    notes: tuple[str, ...] = ()


def find_head(path: str, probe: Rows, width: int, time_number: int | None) -> Head:
    """Understand the rows above the data.

    Parameters
    ----------
    probe : sequence of sequence of str
        The first rows of the file, in cells.
    width : int
        Cells of a row of data.
    time_number : int or None
        Which column, counted from 1, a person says to be the time.

    Raises
    ------
    TelemetryError
        The names do not fit the columns; the message names the options that decide.
    """
    first = _first_data_row(path, probe, width)
    first, notes = _behind_channel_numbers(probe, first)
    rows = _head_rows(probe[:first], width)
    first, more_notes = _behind_limits(probe, first)
    units = next((row for row in reversed(rows) if is_unit_row(row)), ())
    named = [row for row in rows if not is_unit_row(row) and not _is_channels(row)]
    shift, shafts = 0, ""
    if named:
        best = max(named, key=lambda row: (_known(row, units), named.index(row)))
        shift = _shift(path, probe[first:], filled_part(best), width, time_number)
    else:  # what looks like a units row may be all the header there is: "s;1/min;km/h"
        best, units = units, ()
        shafts = _other_shafts(probe[: first - len(rows)])
    at = named.index(best) if named else 0
    # a row of two cells at its start is a line of the preamble: "Driver; A. N. Other"
    above = [row for row in named[:at] if len(row) > 2 or len(best) <= 2]
    below = named[at + 1 :]

    def column(index: int) -> ColumnName:
        over = _joined(_over(row, index) for row in above)
        under = _joined(_cell(row, index) for row in below)
        # a column's name may stand in another row
        name = _cell(best, index) or under or over
        return read_column_name(name, bare_unit(_cell(units, index)), over, under or shafts)

    end = max([width - shift, *map(len, (*named, best, units))])
    return Head(
        columns=tuple(column(index) for index in range(-shift, end)),
        first_data_row=first,
        notes=notes + more_notes,
    )


def _other_shafts(preamble: Rows) -> str:
    """Find what a title says of a propeller shaft: it tells where no column has a name."""
    something_else = KINDS[RPM].something_else
    cells = (cell for row in preamble for cell in row)
    return " ".join(cell for cell in cells if something_else.search(plain_words(cell)))


def _first_data_row(path: str, probe: Rows, width: int) -> int:
    for index, row in enumerate(probe):
        # half the width: the first rows of a log often lack slow values
        is_wide = len(row) >= width and len([*filter(str.strip, row)]) >= max(2, width // 2)
        if is_wide and is_data(row):
            return index
    for index, row in enumerate(probe):
        if is_data(row) and len(filled_part(row)) >= 2:
            return index
    raise TelemetryError(
        f"{path} has no rows of two or more numbers; choose another file or --delimiter"
    )


def _behind_channel_numbers(probe: Rows, first: int) -> tuple[int, tuple[str, ...]]:
    """Go on behind a row of channel numbers, which looks like data.

    In doubt it is one: a row that is lost tells less than a row that is wrong.
    """
    if not _is_channels(probe[first]):
        return first, ()
    ahead = probe[first + 1 : first + _MOST_HEAD_ROWS]
    heads = [
        at
        for at, row in enumerate(ahead)
        if not is_data(row) and (is_unit_row(row) or _known(row, ()) >= 2)
    ]
    if heads:
        return first + 2 + heads[-1], ()
    below = [row for row in probe[first + 1 : first + 1 + _ROWS_BELOW] if is_data(row)]
    if first == 0 or len(below) < 2 or not _is_unlike(probe[first], below):
        return first, ()
    shown = ", ".join(cell.strip() for cell in filled_part(probe[first])[:5])
    return first + 1, (
        f"The row of whole numbers under the header ({shown}) was left out: it "
        "seems to hold channel numbers.",
    )


def _behind_limits(probe: Rows, first: int) -> tuple[int, tuple[str, ...]]:
    """Go on behind rows that say between which limits each channel lies."""
    count = limit_row_count(probe[first:]) if first else 0
    if not count:
        return first, ()
    shown = "; ".join(
        ", ".join(cell.strip() for cell in filled_part(row)[:5])
        for row in probe[first : first + count]
    )
    which = "The row" if count == 1 else "The two rows"
    return first + count, (
        f"{which} of limits under the header ({shown}) {'was' if count == 1 else 'were'} left out.",
    )


def _is_channels(row: Sequence[str]) -> bool:
    cells = [cell.strip() for cell in row if cell.strip()]
    if len(cells) < 2 or not all(cell.isascii() and cell.isdigit() for cell in cells):
        return False
    numbers = [int(cell[:9]) for cell in cells]
    return max(numbers) < _CHANNELS and len(set(numbers)) == len(numbers)


def _is_unlike(row: Sequence[str], below: Rows) -> bool:
    """Whether a row of whole numbers is counted through, or written unlike the rows below it."""
    numbers = [int(cell) for cell in row if cell.strip()]
    if all(b - a == 1 for a, b in pairwise(numbers)) and len(numbers) > 2:
        return True
    return any(
        cell.strip() and all(len(each) > at and _has_decimals(each[at]) for each in below)
        for at, cell in enumerate(row)
    )


def _has_decimals(cell: str) -> bool:
    whole, sign, fraction = cell.strip().replace(",", ".").partition(".")
    is_parted = "," in cell and len(fraction) == 3  # 1,004 may be a thousand
    return bool(sign and whole.lstrip("+-").isdigit() and fraction.isdigit() and not is_parted)


def _head_rows(above: Rows, width: int) -> list[tuple[str, ...]]:
    """Rows right above the data that have a cell for most columns."""
    rows: list[tuple[str, ...]] = []
    for row in reversed(above):
        cells = tuple(cell.strip() for cell in row)
        filled = [cell for cell in cells if cell]
        is_wide = len(row) >= width or len(filled_part(cells)) >= width // 2
        if len(filled) < 2 or not is_wide or len(rows) == _MOST_HEAD_ROWS:
            break
        if rows and is_data(cells) and not _is_channels(cells):
            break
        rows.insert(0, tuple(filled_part(cells)))
    return rows


def _known(row: Sequence[str], units: Sequence[str]) -> int:
    """How many cells of a row name something that a session keeps."""
    pairs = zip(row, chain(map(bare_unit, units), repeat("")), strict=False)
    names = (read_column_name(*pair) for pair in pairs)
    return sum(1 for name in names if name.words and kinds_of(name))


def _shift(
    path: str, data: Rows, header: Sequence[str], width: int, time_number: int | None
) -> bool:
    """Whether the header lacks a name for the first column, as of a count of the rows."""
    if len(header) >= width:
        return False
    rows = [row for row in data if is_data(row) and len(filled_part(row)) >= 2]
    if rows and not any(row[0].strip() for row in rows):
        return True
    counts = [row[0].strip() for row in rows]
    if len(header) != width - 1 or len(counts) < 2 or not all(map(str.isdecimal, counts)):
        return False
    numbers = [int(count[:9]) for count in counts]
    if any(b - a != 1 for a, b in pairwise(numbers)):
        return False
    if time_number is None:
        raise TelemetryError(
            f"the rows of {path} have one cell more than its header has names, so the first may "
            "be a count of the rows; give --time-column and --rpm-column by number, 1 to "
            f"{width}"
        )
    before = header[time_number - 2] if 2 <= time_number <= width else ""
    return TIME in kinds_of(read_column_name(before))


def _cell(row: Sequence[str], index: int) -> str:
    return row[index] if 0 <= index < len(row) else ""


def _over(row: Sequence[str], index: int) -> str:
    """Give the cell that stands over a column: a name over several ones stands in the first."""
    return next(filter(None, reversed(row[: max(0, index + 1)])), "")


def _joined(cells: Iterable[str]) -> str:
    return " ".join(filter(None, cells))
