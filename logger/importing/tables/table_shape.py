"""The shape of a table of text: delimiter, preamble, header, units row, first row of data."""
# SPDX-License-Identifier: GPL-2.0-or-later

import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.errors import TelemetryError
from logger.importing.tables.number_text import (
    DECIMAL_SIGNS,
    MISSING_MARKS,
    find_decimal_sign,
    looks_like_number,
    sign_of_option,
)
from logger.importing.tables.time_text import looks_like_clock
from logger.importing.tables.units import bare_unit, unit_quantity

_DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
# judgement: enough rows to see past a preamble, and past cells without decimals; more only cost
# time.
_PROBE_LINES = 400
_DECIMAL_PROBE_ROWS = 4000
# Of a row's filled cells that are numbers or clock times; judgement: a third, because logs have
# columns of words; less takes a heading for data.
_LEAST_DATA_SHARE = 0.34


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of text, its shape understood.

    Attributes
    ----------
    header, unit_row : tuple of str
        One text a column; empty texts where the file says nothing.
    first_data_row : int
        Counted from 0 over the lines that are not blank.
    decimal : str
        ``.`` or ``,``.
    """

    lines: tuple[str, ...]
    delimiter: str
    decimal: str
    header: tuple[str, ...]
    unit_row: tuple[str, ...]
    first_data_row: int

    def rows(self) -> Iterator[list[str]]:
        """Yield the cells of each row of data; a row may be shorter or longer than the header."""
        return _parse(self.lines[self.first_data_row :], self.delimiter)

    def spread_rows(self, count: int) -> Iterator[list[str]]:
        """Yield about ``count`` rows of data, evenly from the first to the last."""
        step = max(1, (len(self.lines) - self.first_data_row) // count)
        return _parse(self.lines[self.first_data_row :: step], self.delimiter)


def read_table(path: Path, text: str, delimiter: str | None, decimal: str | None) -> Table:
    """Find the shape of a table.

    Raises
    ------
    TelemetryError
        There is no table of numbers, or the text alone does not decide; the message then names
        the option that does.
    """
    lines = tuple(line for line in text.split("\n") if line.strip(" \t;,|"))
    if delimiter:
        sign = sign_of_option("--delimiter", delimiter.replace("\\t", "\t"), _DELIMITERS)
    else:
        sign = _find_delimiter(path, lines)
    probe = list(_parse(lines[:_PROBE_LINES], sign))
    width = _data_width(path, probe)
    first = _first_data_row(path, probe, width)
    header, unit_row = _header_rows(probe[:first], width)
    _refuse_commas_twice(path, sign, probe[first:], header)
    table = Table(
        lines=_without_cut_line(text, lines, sign, width),
        delimiter=sign,
        decimal=sign_of_option("--decimal", decimal, DECIMAL_SIGNS) if decimal else ".",
        header=header,
        unit_row=unit_row,
        first_data_row=first,
    )
    if decimal:
        return table
    cells = (cell for row in table.spread_rows(_DECIMAL_PROBE_ROWS) for cell in row)
    return replace(table, decimal=find_decimal_sign(cells))


def _find_delimiter(path: Path, lines: Sequence[str]) -> str:
    scores = {}
    for name, sign in _DELIMITERS.items():
        rows = [_filled(row) for row in _parse(lines[:_PROBE_LINES], sign)]
        # a wrong sign cuts numbers in two and leaves cells that hold the right sign
        scores[name] = sum(_readable_share(row) for row in rows if len(row) >= 2 and _is_data(row))
    best = max(scores.values())
    names = [name for name, score in scores.items() if score >= 0.98 * best]
    if best == 0.0:
        raise TelemetryError(
            f"{path} has no rows of two or more numbers, so it is no table of a drive; "
            "choose another file, or give --delimiter"
        )
    if len(names) > 1:
        raise TelemetryError(
            f"{path} can be read with different delimiters; give --delimiter {' or '.join(names)}"
        )
    return _DELIMITERS[names[0]]


def _data_width(path: Path, probe: Sequence[list[str]]) -> int:
    widths = Counter(len(_filled(row)) for row in probe if _is_data(row))
    if not widths:
        raise TelemetryError(
            f"{path} has no rows of numbers with this --delimiter; leave it out, or give another"
        )
    return max(width for width, count in widths.items() if count >= 0.05 * widths.total())


def _first_data_row(path: Path, probe: Sequence[list[str]], width: int) -> int:
    for index, row in enumerate(probe):
        # half the width: the first rows of a log often lack slow values
        if _is_data(row) and len(row) >= width and len(_filled(row)) >= max(2, width // 2):
            return index
    for index, row in enumerate(probe):
        if _is_data(row) and len(_filled(row)) >= 2:
            return index
    raise TelemetryError(
        f"{path} has no rows of two or more numbers; choose another file or --delimiter"
    )


def _header_rows(above: Sequence[list[str]], width: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    unit_row: tuple[str, ...] = ()
    for row in reversed(above):
        cells = [cell.strip() for cell in row]
        filled = [cell for cell in cells if cell]
        if len(filled) < 2 or len(_filled(cells)) < width // 2:
            break
        if not unit_row and _is_unit_row(filled):
            unit_row = tuple(cells)
            continue
        size = max(width, len(_filled(cells)), len(_filled(unit_row)))
        return _padded(cells, size), _padded(unit_row, size)
    # what looked like a units row may be all the header there is: "s;1/min;km/h"
    return _padded(unit_row, max(width, len(unit_row))), _padded((), max(width, len(unit_row)))


def _without_cut_line(
    text: str, lines: tuple[str, ...], delimiter: str, width: int
) -> tuple[str, ...]:
    """Leave out a last line that ends early: its last number may have lost digits."""
    if text.endswith("\n"):
        return lines
    last = next(_parse(lines[-1:], delimiter), [])
    return lines[:-1] if len(last) < width else lines


def _refuse_commas_twice(
    path: Path, delimiter: str, data: Sequence[list[str]], header: tuple[str, ...]
) -> None:
    named = sum(1 for cell in header if cell)
    wider = sum(1 for row in data if len(_filled(row)) >= 2 * named)
    if delimiter == "," and named >= 2 and wider > 0.5 * len(data):
        raise TelemetryError(
            f"{path} seems to use the comma between columns and in numbers; "
            "export it with semicolons or tabs between columns"
        )


def _parse(lines: Sequence[str], delimiter: str) -> Iterator[list[str]]:
    """Split lines into cells; a quote that never closes must not swallow the lines behind it."""
    safe = (line.replace('"', "") if line.count('"') % 2 else line for line in lines)
    try:
        yield from csv.reader(safe, delimiter=delimiter)
    except csv.Error as error:
        raise TelemetryError(f"the table cannot be read ({error}); export it again") from error


def _filled(row: Sequence[str]) -> Sequence[str]:
    """Cut the empty cells that trailing delimiters leave."""
    end = len(row)
    while end and not row[end - 1].strip():
        end -= 1
    return row[:end]


def _is_data(row: Sequence[str]) -> bool:
    return _readable_share(row) >= _LEAST_DATA_SHARE


def _readable_share(row: Sequence[str]) -> float:
    cells = [cell.strip() for cell in row]
    filled = [cell for cell in cells if cell.lower() not in MISSING_MARKS]
    readable = sum(1 for cell in filled if looks_like_number(cell) or looks_like_clock(cell))
    return readable / max(1, len(filled))


def _is_unit_row(filled: Sequence[str]) -> bool:
    known = sum(1 for cell in filled if unit_quantity(bare_unit(cell)))
    return known >= 0.5 * len(filled)


def _padded(cells: Sequence[str], width: int) -> tuple[str, ...]:
    return (*cells, *("" for _ in range(width - len(cells))))[:width]
