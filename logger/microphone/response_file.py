"""A microphone's response file: frequency in Hz and dB on each line, as makers and labs write it.

Blanks, tabs, semicolons or commas part the numbers; the comma may be a decimal comma where
something else parts them. Lines that begin with a comment sign are passed over, and so are words
before the first number. A third column (phase) is not used. The dB are what the microphone shows
too much at that frequency (common practice, no source).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from logger.errors import LoggerError, TelemetryError
from logger.folder.quantities import LARGEST_RESPONSE_DB
from logger.folder.text_decoding import read_text

_COMMENT_SIGNS = ("*", "#", '"', "'", ";", "!", "%", "//")
_LEAST_POINTS = 2
# without a way back (*+), so that a line of 90,000 digits takes no longer than its length
_NUMBER = re.compile(
    r"[+-]?(\d++\.?+\d*+|\.\d++)(e[+-]?\d++)?+|[+-]?(nan|inf|infinity)", re.IGNORECASE
)
_BEGINS_WITH_NUMBER = re.compile(r"[+-]?\.?\d")
_BLANKS = re.compile(r"\s+")

Point = tuple[float, float]


class ResponseError(LoggerError):
    """A response file that cannot be understood."""


@dataclass(frozen=True, slots=True)
class _Dialect:
    """What parts two numbers, and whether a comma is a decimal sign."""

    separator: re.Pattern[str]
    decimal_comma: bool

    def fields(self, line: str) -> list[str]:
        """Part a line; no fields where a point and a decimal comma would stand side by side."""
        if self.decimal_comma:
            line = "" if "." in line else line.replace(",", ".")
        return [part.strip() for part in self.separator.split(line.strip())]


_DIALECTS = (
    _Dialect(re.compile(r"[\t;]"), decimal_comma=False),
    _Dialect(_BLANKS, decimal_comma=False),
    _Dialect(re.compile(","), decimal_comma=False),
    _Dialect(re.compile(r"[\t;]"), decimal_comma=True),
    _Dialect(_BLANKS, decimal_comma=True),
)


def read_response(path: Path) -> tuple[Point, ...]:
    """Read frequency in Hz, rising, and dB that the microphone shows too much there.

    Raises
    ------
    ResponseError
        The file is missing or no text, a line has no two numbers, a frequency does not rise, a
        number is absurd, or there are fewer than two points; the message names the line.
    """
    try:
        text = read_text(path, None)
    except TelemetryError as error:
        raise ResponseError(f"the microphone's response: {error}") from error
    lines = list(_lines_of_data(text))
    if len(lines) < _LEAST_POINTS:
        raise ResponseError(
            f"{path} has {len(lines)} lines of numbers, at least {_LEAST_POINTS} are needed; each "
            "line must hold a frequency in Hz and dB"
        )
    dialect = _dialect_of([line for _, line in lines])
    points: list[Point] = []
    for number, line in lines:
        point = _point(dialect.fields(line))
        trouble = _trouble(point, points[-1][0] if points else 0.0)
        if point is None or trouble:
            raise ResponseError(f"{path}, line {number}: {trouble}")
        points.append(point)
    return tuple(points)


def _lines_of_data(text: str) -> Iterator[tuple[int, str]]:
    """Give lines that are neither blank, comment nor heading, with their numbers from 1."""
    begun = False
    for number, line in enumerate(text.split("\n"), start=1):
        stripped = line.strip()
        if not stripped or stripped.startswith(_COMMENT_SIGNS):
            continue
        begun = begun or _BEGINS_WITH_NUMBER.match(stripped) is not None
        if begun:
            yield number, stripped


def _dialect_of(lines: list[str]) -> _Dialect:
    """Find how the numbers are parted: as most lines make sense; the earlier one of equals."""

    def understood(dialect: _Dialect) -> int:
        return sum(1 for line in lines if _point(dialect.fields(line)) is not None)

    return max(_DIALECTS, key=understood)


def _point(fields: list[str]) -> Point | None:
    if len(fields) < 2 or not all(_NUMBER.fullmatch(each) for each in fields[:2]):
        return None
    return float(fields[0]), float(fields[1])


def _trouble(point: Point | None, before_hz: float) -> str:
    if point is None:
        return "a frequency in Hz and dB must stand here, as in 100 -1.5; correct or remove it"
    hz, db = point
    if not (math.isfinite(hz) and math.isfinite(db)):
        return "both numbers must be finite; correct or remove the line"
    if not hz > before_hz:
        return (
            f"frequencies must rise from above 0, but {hz:g} Hz follows {before_hz:g} Hz; sort it"
        )
    if abs(db) > LARGEST_RESPONSE_DB:
        return (
            f"{db:g} dB is more than any microphone is off ({LARGEST_RESPONSE_DB:g} dB); the "
            "second column must be dB relative to a flat microphone, not a level"
        )
    return ""
