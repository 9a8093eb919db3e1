"""What a row of cells is: data, or names of units."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

from logger.importing.tables.number_text import MISSING_MARKS, looks_like_number
from logger.importing.tables.time_text import looks_like_clock
from logger.importing.tables.units import bare_unit, unit_quantity

# Of a row's filled cells that are numbers or clock times; judgement: a third, because logs have
# columns of words; less takes a heading for data.
_LEAST_DATA_SHARE = 0.34


def is_data(row: Sequence[str]) -> bool:
    """Whether enough cells of a row are numbers or clock times."""
    return readable_share(row) >= _LEAST_DATA_SHARE


def is_readable(cell: str) -> bool:
    """Whether a cell is a number or a clock time."""
    return looks_like_number(cell) or looks_like_clock(cell)


def readable_share(row: Sequence[str]) -> float:
    """Share of a row's filled cells that are numbers or clock times."""
    cells = [cell.strip() for cell in row]
    filled = [cell for cell in cells if cell.lower() not in MISSING_MARKS]
    return sum(map(is_readable, filled)) / max(1, len(filled))


def is_unit_row(row: Sequence[str]) -> bool:
    """Whether at least half of a row's filled cells are known units."""
    filled = [cell for cell in row if cell.strip()]
    known = sum(1 for cell in filled if unit_quantity(bare_unit(cell)))
    return bool(filled) and known >= 0.5 * len(filled)


def filled_part(row: Sequence[str]) -> Sequence[str]:
    """Cut the empty cells that trailing delimiters leave."""
    end = len(row)
    while end and not row[end - 1].strip():
        end -= 1
    return row[:end]
