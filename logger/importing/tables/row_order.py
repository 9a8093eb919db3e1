"""Bring rows into rising time: repeated, backward and coarse time stamps."""
# SPDX-License-Identifier: GPL-2.0-or-later

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.arrays import FloatArray
from logger.errors import TelemetryError

IntArray = NDArray[np.intp]

# judgement: shares of all rows. A log with more rows out of order than this is refused, since
# nobody knows what its times mean; with lower limits logs that a reader would mend are refused,
# with higher ones times are made up.
_MOST_OUT_OF_ORDER = 0.1
_ALWAYS_FORGIVEN = 3
COARSE_ROWS_PER_STAMP = 1.5
_SAME_ROW_SHARE = 0.9
_FALLING_SHARE = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedRows:
    """Which rows stay, in their order, and at which time.

    Attributes
    ----------
    rows : ndarray [shape=(n,)]
        Indices of the rows that stay.
    times_s : ndarray [shape=(n,)]
        Strictly rising.
    dropped : dict of str to int
        Reason to number of rows.
    """

    rows: IntArray
    times_s: FloatArray
    dropped: dict[str, int]
    notes: tuple[str, ...]


def order_rows(times_s: FloatArray, values: FloatArray) -> OrderedRows:
    """Choose the rows that make one strictly rising time.

    Parameters
    ----------
    times_s : ndarray [shape=(n,)]
        NaN for a row without a time.
    values : ndarray [shape=(n, k)]
        What else the rows hold, to tell a repeated row from a coarse clock.

    Raises
    ------
    TelemetryError
        So many rows run backward that this is not one drive.
    """
    dropped: dict[str, int] = {}
    notes: list[str] = []
    rows: IntArray = np.flatnonzero(np.isfinite(times_s))
    if rows.size < times_s.size:
        dropped["no readable time"] = times_s.size - rows.size
    if _is_newest_first(times_s[rows]):
        rows = rows[::-1]
        notes.append("The file has its newest row first; the order was turned round.")
    in_order = rows[_longest_rising(times_s[rows])]
    _refuse_many(times_s, rows, in_order)
    if in_order.size < rows.size:
        dropped["time runs backward"] = int(rows.size - in_order.size)
    kept, spread_s, note = _part_repeated(times_s, values, in_order)
    if note:
        notes.append(note)
    if kept.size < in_order.size:
        dropped["repeated time"] = int(in_order.size - kept.size)
    return OrderedRows(rows=kept, times_s=spread_s, dropped=dropped, notes=tuple(notes))


def _is_newest_first(times_s: FloatArray) -> bool:
    if times_s.size < 3 or times_s[-1] >= times_s[0]:
        return False
    return float((np.diff(times_s) <= 0.0).mean()) > _FALLING_SHARE


def _longest_rising(times_s: FloatArray) -> IntArray:
    """Give the indices of the longest run, gaps allowed, that never falls (patience sorting).

    It goes from the end, so that of two rows that exclude each other the first one stays.
    """
    if not (np.diff(times_s) < 0.0).any():
        return np.arange(times_s.size)
    tails: list[float] = []
    tail_index: list[int] = []
    before = np.full(times_s.size, -1, dtype=np.intp)
    for index, time_s in enumerate((-times_s[::-1]).tolist()):
        length = bisect_right(tails, time_s)
        if length == len(tails):
            tails.append(time_s)
            tail_index.append(index)
        else:
            tails[length] = time_s
            tail_index[length] = index
        before[index] = tail_index[length - 1] if length else -1
    chain = []
    index = tail_index[-1]
    while index >= 0:
        chain.append(index)
        index = int(before[index])
    return times_s.size - 1 - np.array(chain, dtype=np.intp)


def _refuse_many(times_s: FloatArray, rows: IntArray, in_order: IntArray) -> None:
    lost = rows.size - in_order.size
    if lost > _ALWAYS_FORGIVEN and lost > _MOST_OUT_OF_ORDER * rows.size:
        fall = int(np.flatnonzero(np.diff(times_s[rows]) < 0.0)[0]) + 1
        raise TelemetryError(
            f"time runs backward in {lost} of {rows.size} rows, first at data row "
            f"{int(rows[fall]) + 1}; the file seems to hold more than one recording: "
            "cut it into one file each, or give another --time-column"
        )


def _part_repeated(
    times_s: FloatArray, values: FloatArray, rows: IntArray
) -> tuple[IntArray, FloatArray, str]:
    """Drop repeated stamps; or, where a coarse clock repeats most of them, part its rows."""
    stamps = times_s[rows]
    is_new = np.diff(stamps, prepend=-np.inf) > 0.0
    repeated = np.flatnonzero(~is_new)
    count = int(is_new.sum())
    if repeated.size == 0:
        return rows, stamps, ""
    here, before = values[rows[repeated]], values[rows[repeated - 1]]
    same = ((here == before) | (np.isnan(here) & np.isnan(before))).all(axis=1)
    is_coarse = rows.size >= COARSE_ROWS_PER_STAMP * count and count >= 3
    if not is_coarse or same.mean() >= _SAME_ROW_SHARE:
        return rows[is_new], stamps[is_new], ""
    starts = np.flatnonzero(is_new)
    lengths = np.diff(starts, append=stamps.size)
    ticks = np.diff(stamps[starts])
    usual_tick_s = float(np.median(ticks))
    spans = np.minimum(np.append(ticks, usual_tick_s), usual_tick_s)
    which = np.cumsum(is_new) - 1
    place = np.arange(stamps.size) - starts[which]
    spread = stamps + place * (spans[which] / lengths[which])
    note = (
        f"The clock counts in steps of {usual_tick_s:.3g} s with several rows each; "
        "the rows were spread evenly between its steps."
    )
    rising = np.diff(spread, prepend=-np.inf) > 0.0
    return rows[rising], spread[rising], note
