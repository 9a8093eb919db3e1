"""Time stamps as people's files write them: clocks, dates with clocks, ISO 8601."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime

_CLOCK = re.compile(
    r"(?<![\d:])(\d{1,3}):([0-5]\d):([0-6]\d)(?:[.,:](\d{1,12}))?\s*([AaPp])?(?:\.?[Mm]\b)?"
)
_SHORT_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?:[.,](\d{1,12}))?")
_ISO = re.compile(r"\d{4}-?\d\d-?\d\d[T ]\d\d")
# judgement: no time is written longer; keeps patterns from running over whole pages
_LONGEST_CELL = 64
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)  # POSIX time, by definition

TimeReader = Callable[[str], float | None]


def looks_like_clock(cell: str) -> bool:
    """Say whether a cell holds a clock time or a date with one."""
    text = cell.strip()
    if len(text) > _LONGEST_CELL:
        return False
    return bool(_ISO.match(text) or _CLOCK.search(text) or _SHORT_CLOCK.fullmatch(text))


def clock_seconds(cell: str) -> float | None:
    """Read ``13:05:12.345``, ``1:05:12 PM`` or a date before one; seconds since midnight."""
    found = _CLOCK.search(cell) if len(cell) <= _LONGEST_CELL else None
    if found is None:
        return None
    hours = int(found[1])
    half = (found[5] or "").lower()
    if half:
        if not 1 <= hours <= 12:
            return None
        hours = hours % 12 + (12 if half == "p" else 0)
    fraction = float(f"0.{found[4]}") if found[4] else 0.0
    return hours * 3600.0 + int(found[2]) * 60.0 + int(found[3]) + fraction


def short_clock_seconds(cell: str) -> float | None:
    """Read ``05:12.3`` as minutes and seconds."""
    found = _SHORT_CLOCK.fullmatch(cell.strip())
    if found is None:
        return None
    fraction = float(f"0.{found[3]}") if found[3] else 0.0
    return int(found[1]) * 60.0 + int(found[2]) + fraction


def iso_seconds(cell: str) -> float | None:
    """Read ISO 8601 as seconds since 1970; without a zone it is taken as UTC."""
    time = iso_time(cell)
    if time is None:
        return None
    known = time if time.tzinfo is not None else time.replace(tzinfo=UTC)
    return (known - _EPOCH).total_seconds()


def iso_time(cell: str) -> datetime | None:
    """Read ISO 8601 as a time, with a zone only where the text has one."""
    text = cell.strip()
    if not _ISO.match(text):
        return None
    zoned = re.sub(r" (?=[+-]\d\d:?\d\d$|Z$)", "", text.removesuffix(" UTC"))
    try:
        return datetime.fromisoformat(zoned + ("Z" if text.endswith(" UTC") else ""))
    except ValueError:
        return None


def find_time_reader(cells: Sequence[str]) -> TimeReader | None:
    """Choose how to read a column of clock times; None when most cells are no clock times."""
    filled = [cell for cell in cells if cell.strip()]
    for reader in (iso_seconds, clock_seconds, short_clock_seconds):
        if filled and sum(reader(cell) is not None for cell in filled) > 0.5 * len(filled):
            return reader
    return None
