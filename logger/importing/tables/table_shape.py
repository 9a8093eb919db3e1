"""The shape of a table of text: delimiter, decimal sign, head, and rows of data."""
# SPDX-License-Identifier: GPL-2.0-or-later

import csv
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.errors import TelemetryError
from logger.importing.request import TelemetryOptions
from logger.importing.tables.column_names import ColumnName
from logger.importing.tables.number_text import (
    DECIMAL_SIGNS,
    find_decimal_sign,
    looks_like_number,
    sign_of_option,
)
from logger.importing.tables.row_kinds import filled_part, is_data, readable_share
from logger.importing.tables.table_head import Head, find_head

_SPACE = " "
_DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
# judgement: enough rows to see past a preamble, and past cells without decimals; more only cost
# time.
_PROBE_LINES = 400
_DECIMAL_PROBE_ROWS = 4000
# judgement: a day of driving at 20 rows a second; more would fill the memory
MOST_LINES = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of text, its shape understood.

    Attributes
    ----------
    head : Head
        Its ``first_data_row`` counts the lines that are not blank.
    decimal : str
        ``.`` or ``,``.
    """

    lines: tuple[str, ...]
    delimiter: str
    decimal: str
    head: Head

    def rows(self) -> Iterator[list[str]]:
        """Yield the cells of each row of data; a row may be shorter or longer than the header."""
        return _parse(self.lines[self.head.first_data_row :], self.delimiter)

    def spread_rows(self, count: int) -> Iterator[list[str]]:
        """Yield about ``count`` rows of data, evenly from the first to the last."""
        step = max(1, (len(self.lines) - self.head.first_data_row) // count)
        return _parse(self.lines[self.head.first_data_row :: step], self.delimiter)


def read_table(path: Path, text: str, options: TelemetryOptions) -> Table:
    """Find the shape of a table.

    Raises
    ------
    TelemetryError
        There is no table of numbers, or the text alone does not decide; the message then names
        the option that does.
    """
    if text.count("\n") > MOST_LINES:
        raise TelemetryError(
            f"{path} has more than the {MOST_LINES:,} lines that are a day of driving; cut it to "
            "the drive"
        )
    lines = tuple(line for line in text.split("\n") if line.strip(" \t;,|"))
    lines, sign = _delimited(path, lines, options.delimiter)
    probe = list(_parse(lines[:_PROBE_LINES], sign))
    width = _data_width(path, probe)
    said = (options.time_column or "").strip()
    time_number = int(said) if re.fullmatch("[0-9]{1,4}", said) else None
    head = find_head(str(path), probe, width, time_number)
    _refuse_commas_twice(path, sign, probe[head.first_data_row :], head.columns)
    decimal = options.decimal
    table = Table(
        lines=_without_cut_line(text, lines, sign, width),
        delimiter=sign,
        decimal=sign_of_option("--decimal", decimal, DECIMAL_SIGNS) if decimal else ".",
        head=head,
    )
    if decimal:
        return table
    cells = (cell for row in table.spread_rows(_DECIMAL_PROBE_ROWS) for cell in row)
    return replace(table, decimal=find_decimal_sign(cells))


def _delimited(
    path: Path, lines: tuple[str, ...], asked: str | None
) -> tuple[tuple[str, ...], str]:
    """Give lines whose cells one sign parts, and that sign."""
    if asked:
        signs = {**_DELIMITERS, "space": _SPACE}
        sign = sign_of_option("--delimiter", asked.replace("\\t", "\t"), signs)
    else:
        sign = _find_delimiter(path, lines)
    if sign != _SPACE:
        return lines, sign
    return _parted_by_blanks(lines) or lines, "\t"


def _find_delimiter(path: Path, lines: tuple[str, ...]) -> str:
    scores = {
        sign: sum(map(readable_share, _data_rows(lines, sign))) for sign in _DELIMITERS.values()
    }
    best = max(scores.values())
    if best == 0.0:
        if _parted_by_blanks(lines):
            return _SPACE
        raise TelemetryError(
            f"{path} has no rows of two or more numbers, so it is no table of a drive; "
            "choose another file, or give --delimiter"
        )
    tied = [sign for sign, score in scores.items() if score >= 0.98 * best]
    if len(tied) > 1:
        tied = [sign for sign in tied if not _leaves(lines, sign, tied)] or tied
    if len(tied) > 1:
        names = [name for name, sign in _DELIMITERS.items() if sign in tied]
        raise TelemetryError(
            f"{path} can be read with different delimiters; give --delimiter {' or '.join(names)}"
        )
    return tied[0]


def _data_rows(lines: Sequence[str], sign: str) -> list[Sequence[str]]:
    rows = (filled_part(row) for row in _parse(lines[:_PROBE_LINES], sign))
    return [row for row in rows if len(row) >= 2 and is_data(row)]


def _leaves(lines: Sequence[str], sign: str, tied: Sequence[str]) -> bool:
    """Whether cells are left that hold another of the tied signs: the true one cuts them too."""
    others = [each for each in tied if each != sign]
    return any(
        other in cell
        for row in _data_rows(lines, sign)
        for cell in row
        if not looks_like_number(cell)
        for other in others
    )


def _parted_by_blanks(lines: tuple[str, ...]) -> tuple[str, ...]:
    """Put tabs where columns are lined up with blanks; no lines where none are.

    Two blanks part columns and one may stand in a name, if that gives rows alike.
    """
    for blanks in (r"[ \t]{2,}", r"[ \t]+"):
        parted = [re.sub(blanks, "\t", line.strip()) for line in lines[:_PROBE_LINES]]
        rows = _data_rows(parted, "\t")
        if rows and len({len(row) for row in rows}) == 1:
            return tuple(re.sub(blanks, "\t", line.strip()) for line in lines)
    return ()


def _data_width(path: Path, probe: Sequence[list[str]]) -> int:
    widths = Counter(len(filled_part(row)) for row in probe if is_data(row))
    if not widths:
        raise TelemetryError(
            f"{path} has no rows of numbers with this --delimiter; leave it out, or give another"
        )
    return max(width for width, count in widths.items() if count >= 0.05 * widths.total())


def _without_cut_line(
    text: str, lines: tuple[str, ...], delimiter: str, width: int
) -> tuple[str, ...]:
    """Leave out a last line that ends early: its last number may have lost digits."""
    if text.endswith("\n"):
        return lines
    last = next(_parse(lines[-1:], delimiter), [])
    return lines[:-1] if len(last) < width else lines


def _refuse_commas_twice(
    path: Path, delimiter: str, data: Sequence[list[str]], columns: Sequence[ColumnName]
) -> None:
    named = sum(1 for column in columns if column.text)
    wider = sum(1 for row in data if len(filled_part(row)) >= 2 * named)
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
