"""Take typed values out of a JSON object, with an error that names the field."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Mapping

from logger.errors import SessionError


class JsonFields:
    """The fields of one JSON object of one file.

    Raises
    ------
    SessionError
        From every method, when the field is not what it should be.
    """

    def __init__(self, value: object, where: str) -> None:
        if not isinstance(value, dict):
            raise SessionError(f"{where} is damaged: expected an object, got {_short(value)}")
        self._fields: dict[str, object] = value
        self._where = where

    def text(self, key: str, default: str = "") -> str:
        """Give text, or the default when the field is missing or null."""
        value = self._fields.get(key)
        if value is None:
            return default
        if not isinstance(value, str):
            raise self._wrong(key, "text")
        return value

    def number(self, key: str, *, low: float = -math.inf, high: float = math.inf) -> float | None:
        """Give a finite number in a range, or None when the field is missing or null."""
        value = self._fields.get(key)
        if value is None:
            return None
        number = self._number(key, value)
        if not low <= number <= high:
            raise self._wrong(key, f"a number from {low:g} to {high:g}")
        return number

    def numbers(self, key: str) -> tuple[float, ...]:
        """Give a list of finite numbers, empty when the field is missing or null."""
        return tuple(self._number(key, item) for item in self.items(key))

    def points(self, key: str) -> tuple[tuple[float, float], ...]:
        """Give a list of pairs of finite numbers, empty when the field is missing or null."""
        points = []
        for item in self.items(key):
            if not isinstance(item, list) or len(item) != 2:
                raise self._wrong(key, "a list of pairs of numbers")
            points.append((self._number(key, item[0]), self._number(key, item[1])))
        return tuple(points)

    def whole(self, key: str, *, low: int, high: int) -> int | None:
        """Give a whole number in a range, or None when the field is missing or null."""
        value = self._fields.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self._wrong(key, f"a whole number from {low} to {high}")
        return value

    def whole_numbers(self, key: str, *, low: int, high: int) -> tuple[int, ...]:
        """Give a list of whole numbers in a range, empty when the field is missing or null."""
        numbers = []
        for item in self.items(key):
            if isinstance(item, bool) or not isinstance(item, int) or not low <= item <= high:
                raise self._wrong(key, f"a list of whole numbers from {low} to {high}")
            numbers.append(item)
        return tuple(numbers)

    def mapping(self, key: str) -> Mapping[str, object] | None:
        """Give an object, or None when the field is missing or null."""
        value = self._fields.get(key)
        if value is None:
            return None
        if not isinstance(value, dict):
            raise self._wrong(key, "an object")
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Give a list of texts, empty when the field is missing or null."""
        items = self.items(key)
        texts = tuple(item for item in items if isinstance(item, str))
        if len(texts) != len(items):
            raise self._wrong(key, "a list of texts")
        return texts

    def items(self, key: str) -> list[object]:
        """Give a list, empty when the field is missing or null."""
        value = self._fields.get(key)
        if value is None:
            return []
        if not isinstance(value, list):
            raise self._wrong(key, "a list")
        return value

    def _number(self, key: str, value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(key, "a number")
        try:
            number = float(value)
        except OverflowError as error:
            raise self._wrong(key, "a number of ordinary size") from error
        if not math.isfinite(number):
            raise self._wrong(key, "a finite number")
        return number

    def _wrong(self, key: str, expected: str) -> SessionError:
        return SessionError(
            f'{self._where} is damaged: "{key}" must be {expected}, '
            f"got {_short(self._fields.get(key))}; import or record the drive again"
        )


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."
