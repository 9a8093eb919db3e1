"""Rows under a table's names that tell the limits of each channel, and look like data."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np

from logger.arrays import FloatArray
from logger.importing.tables.number_text import finite_number, split_unit

Rows = Sequence[Sequence[str]]

_MOST_ROWS = 2  # one of the least values and one of the largest; common practice, no source
_ROWS_BELOW = 20  # judgement: enough to see how fast values change
_LEAST_BELOW = 4  # judgement: fewer tell nothing of what is usual
# judgement: a limit lies farther beyond the first readings than these change from one to the next
_STEPS_APART = 2.0
_LEAST_FILLED = 0.75  # of a column's cells; judgement: less is a column of words


def limit_row_count(data: Rows) -> int:
    """Tell how many of the first rows hold limits and no readings.

    Their time comes again, or later than that of the row below; every value is at or beyond all
    that follow, and one of them far beyond.
    """
    for count in range(_MOST_ROWS, 0, -1):
        below = _numbers(data[count : count + _ROWS_BELOW])
        limits = _numbers(data[:count], below.shape[1])
        if below.shape[0] >= _LEAST_BELOW and _are_limits(limits, below):
            return count
    return 0


def _are_limits(limits: FloatArray, below: FloatArray) -> bool:
    filled = np.isfinite(below).mean(axis=0) >= _LEAST_FILLED
    rising = np.flatnonzero(filled & (np.diff(below, axis=0) > 0.0).all(axis=0))
    told = filled & np.isfinite(limits).all(axis=0)
    if not rising.size or np.count_nonzero(told) < 2:
        return False
    time = rising[0]  # common practice: the first column that only rises is the time
    comes_again = (limits[:, time] >= below[0, time]).any()
    limits, below = limits[:, told], below[:, told]
    beyond = np.maximum(limits - np.nanmax(below, axis=0), np.nanmin(below, axis=0) - limits)
    most_step = np.nanmax(np.abs(np.diff(below, axis=0)), axis=0)
    is_far = beyond > _STEPS_APART * most_step
    return bool(comes_again and (beyond >= 0.0).all() and is_far.any(axis=1).all())


def _numbers(rows: Rows, width: int | None = None) -> FloatArray:
    """Read cells as numbers [shape=(n_rows, width)], NaN where there is none.

    Which sign is the decimal one does not matter for what is compared here.
    """
    size = max(map(len, rows), default=0) if width is None else width
    return np.array(
        [
            [finite_number(split_unit(cell)[0].replace(",", ".")) for cell in row[:size]]
            + [np.nan] * (size - len(row))
            for row in rows
        ]
    ).reshape(len(rows), size)
