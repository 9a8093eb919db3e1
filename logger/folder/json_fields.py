"""Take typed values out of a JSON object, with an error that names the field.

A reader gives a value of its kind, or raises :class:`ValueError` with what it expected.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import math
import sys
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Self, TypeVar

from logger.errors import LoggerError
from logger.folder.harmless import harmless

_T = TypeVar("_T")

# judgement: a night of trouble each second has fewer; more is no file of ours, and takes minutes
_MOST_ITEMS = 100_000


class JsonFields:
    """The fields of one JSON object; null counts as missing.

    Parameters
    ----------
    data : bytes or object
        A file's content, or what JSON gave.
    where : str
        What messages call it.
    error : type
        Raised, by every method too, when something is not what it should be.
    again : str
        What to do then.
    """

    def __init__(self, data: object, where: str, error: type[LoggerError], again: str) -> None:
        self._where, self._error, self._again = where, error, again
        try:
            value = _decode(data) if isinstance(data, bytes) else data
        except (ValueError, RecursionError) as fault:
            raise error(f"{where} is damaged: it is not JSON; {again}") from fault
        if not isinstance(value, dict):
            raise error(f"{where} is damaged: expected an object, got {_short(value)}; {again}")
        self._fields: dict[str, object] = value

    def __iter__(self) -> Iterator[str]:
        return iter(self._fields)

    def needed(self, key: str, read: Callable[[object], _T]) -> _T:
        """Read a field that must be there."""
        return self._read(key, self._fields.get(key), read)

    def one(self, key: str, read: Callable[[object], _T]) -> _T | None:
        """Read a field, None when it is missing."""
        return None if self._fields.get(key) is None else self.needed(key, read)

    def text(self, key: str, default: str = "") -> str:
        """Give text, the default when the field is missing."""
        value = self.one(key, any_text)
        return default if value is None else value

    def many(
        self, key: str, read: Callable[[object], _T], *, most: int = _MOST_ITEMS
    ) -> tuple[_T, ...]:
        """Read each of at most ``most`` items of a list, none when the field is missing."""
        return tuple(self._read(key, item, read) for item in self.one(key, _items(most)) or ())

    def inner(self, key: str) -> Self:
        """Give the fields of an object, none when the field is missing."""
        return self._within(key, self.one(key, mapping) or {})

    def inner_each(self, key: str, *, most: int = _MOST_ITEMS) -> list[Self]:
        """Give the fields of each object of a list, none when the field is missing."""
        return [self._within(key, item) for item in self.many(key, mapping, most=most)]

    def _within(self, key: str, value: object) -> Self:
        return type(self)(value, f"{self._where}, {key}", self._error, self._again)

    def _read(self, key: str, value: object, read: Callable[[object], _T]) -> _T:
        try:
            return read(value)
        except ValueError as expected:
            raise self._error(
                f'{self._where} is damaged: "{key}" must be {expected}, got {_short(value)}; '
                f"{self._again}"
            ) from expected


def any_text(value: object) -> str:
    """Read text, without what a terminal or a page would obey."""
    return harmless(_of_type(value, str, "text"))


def mapping(value: object) -> Mapping[str, object]:
    """Read an object."""
    return _of_type(value, dict, "an object")


def number(low: float = -math.inf, high: float = math.inf) -> Callable[[object], float]:
    """Read a finite number from ``low`` to ``high``."""

    def read(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError("a number")
        if not low <= value <= high or not abs(value) <= sys.float_info.max:
            raise ValueError(f"a finite number from {low:g} to {high:g}")
        return float(value)

    return read


def whole(low: int, high: int) -> Callable[[object], int]:
    """Read a whole number from ``low`` to ``high``."""

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"a whole number from {low} to {high}")
        return value

    return read


def pair(value: object) -> tuple[float, float]:
    """Read two finite numbers."""
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError("pairs of numbers")
    return number()(value[0]), number()(value[1])


def moment(value: object) -> datetime:
    """Read a date and time; without a zone it is in UTC."""
    try:
        time = datetime.fromisoformat(_of_type(value, str, "a time"))
        return time.replace(tzinfo=UTC) if time.tzinfo is None else time.astimezone(UTC)
    except (ValueError, OverflowError) as error:  # a zone may carry it out of the years there are
        raise ValueError("a time") from error


def yes_or_no(value: object) -> bool:
    """Read true or false."""
    return _of_type(value, bool, "true or false")


def _decode(data: bytes) -> object:
    """Read JSON; a half of a surrogate pair, which no file or page can hold, becomes a ``?``."""
    value = json.loads(data.decode("utf-8"))
    if b"\\u" not in data:
        return value
    written = json.dumps(value, ensure_ascii=False)
    return json.loads(written.encode("utf-8", "replace"))


def _items(most: int) -> Callable[[object], list[object]]:
    def read(value: object) -> list[object]:
        items = _of_type(value, list, "a list")
        if len(items) > most:
            raise ValueError(f"a list of at most {most:,} items")
        return items

    return read


def _of_type(value: object, kind: type[_T], expected: str) -> _T:
    if not isinstance(value, kind):
        raise ValueError(expected)
    return value


def _short(value: object) -> str:
    shown = repr(value)
    return shown if len(shown) <= 40 else shown[:37] + "..."
