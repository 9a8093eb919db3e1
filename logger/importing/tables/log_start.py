"""When a log began: from its own dates, in a column, beside a clock, or above the table."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from logger.errors import TelemetryError
from logger.importing.tables.column_names import plain_words
from logger.importing.tables.date_text import DATE_ORDERS, possible_dates, settle_order
from logger.importing.tables.time_text import clock_seconds, iso_time

_DATE_WORDS = re.compile(
    r"(.* )?(date|datum|fecha|data|dato|tarih|tanggal|дата|日期|日付|날짜|तारीख|তারিখ|"
    r"التاريخ|تاريخ|تاریخ)( .*)?"
)
_START_WORDS = re.compile(
    r"start|begin|began|recorded|aufgenommen|beginn|debut|inicio|inizio|начало|开始|開始"
)
_LOCAL_TIME = (
    "The log's times name no zone; they were taken as this computer's local time. If that is not "
    "so, give --started."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogStart:
    """When the log's first row was written.

    ``question`` is what to ask a person where day and month are open; then ``moment`` is None.
    """

    moment: datetime | None
    question: str = ""
    notes: tuple[str, ...] = ()


def is_date_column(header: str) -> bool:
    """Whether a column holds dates, by its name."""
    return _DATE_WORDS.fullmatch(plain_words(header)) is not None


def start_of_log(
    dated_cells: Sequence[str],
    lines_above: Sequence[str],
    first_clock_s: float | None,
    order: str | None,
) -> LogStart:
    """Put date and clock together.

    Parameters
    ----------
    dated_cells : sequence of str
        Cells that may hold dates, the log's first row first.
    lines_above : sequence of str
        What stands above the table.
    first_clock_s : float or None
        Seconds since midnight at the first row; None where the log's own times are no clock.
    order : str or None
        ``dmy`` or ``mdy``, as a person said.
    """
    if order is not None and order.strip().lower() not in DATE_ORDERS:
        raise TelemetryError(f"--date-order {order} is not known; use {' or '.join(DATE_ORDERS)}")
    known = (order or "").strip().lower() or settle_order((*dated_cells, *lines_above))
    first = next((cell for cell in dated_cells if cell.strip()), "")
    text, clock_s = (first, first_clock_s) if possible_dates(first) else ("", None)
    if clock_s is None:
        text, clock_s = _told_above(lines_above, first_clock_s)
    dates = possible_dates(text)
    if clock_s is None or not dates:
        return LogStart(moment=None)
    if len(dates) > 1 and known is None:
        day, month = (f"{each.day} {each:%B %Y}" for each in dates)
        return LogStart(
            moment=None,
            question=f'"{" ".join(text.split())[:40]}" may be {day} or {month}; give --date-order '
            "dmy (day first) or mdy (month first), or --started",
        )
    return _local(dates[DATE_ORDERS.index(known) if len(dates) > 1 and known else 0], clock_s)


def local_start(naive: datetime) -> LogStart:
    """Take a date and clock without a zone as this computer's local time."""
    return _local(naive.date(), (naive - datetime.combine(naive.date(), time())).total_seconds())


def _local(day: date, clock_s: float) -> LogStart:
    try:
        moment = (datetime.combine(day, time()) + timedelta(seconds=clock_s)).astimezone(UTC)
    except (ValueError, OverflowError, OSError):
        return LogStart(moment=None)
    return LogStart(moment=moment, notes=(_LOCAL_TIME,))


def _told_above(lines: Sequence[str], first_clock_s: float | None) -> tuple[str, float | None]:
    """Find the one line above the table that tells the start, or one date and one clock."""
    dated = [line for line in lines if possible_dates(line)]
    began = [line for line in dated if _START_WORDS.search(plain_words(line))]
    chosen = began if began else dated
    if len({possible_dates(line) for line in chosen}) != 1:
        return "", None
    if first_clock_s is not None:
        return chosen[0], first_clock_s
    clocks = {_clock(line) for line in chosen} - {None}
    if not clocks:
        clocks = {_clock(line) for line in lines} - {None}
    return chosen[0], clocks.pop() if len(clocks) == 1 else None


def _clock(line: str) -> float | None:
    """Read the first date with a clock in a line, or else its first clock."""
    for part in re.split("[;,\t]", line):
        if (moment := iso_time(part.strip())) is not None:
            return moment.hour * 3600.0 + moment.minute * 60.0 + moment.second
    # not at commas: 10:05:12,345 has a decimal one
    clocks = (clock_seconds(part.strip()) for part in re.split("[;\t]", line))
    return next((each for each in clocks if each is not None), None)
