"""Single values of a car file: checked, and every wrong word named."""
# SPDX-License-Identifier: GPL-2.0-or-later

import difflib
from collections.abc import Callable, Iterable, Mapping
from typing import TypeVar

from analysis.basics.interval import Interval
from analysis.basics.units import parse_length_m, parse_temperature_range_k
from analysis.errors import CarError, QuantityError

# judgement: no car has speeds beyond; such a value is a slip of unit and refused.
_RPM = (100.0, 20_000.0)

_ZERO = (["0", "m"], ["0", "mm"], ["0", "in"])

_T = TypeVar("_T")


def length_m(value: object, name: str, limits_m: tuple[float, float]) -> float:
    """Read a length within limits.

    Raises
    ------
    CarError
        It is not that.
    """
    got_m = _quantity(value, name, parse_length_m, "63.5 mm")
    if not limits_m[0] <= got_m <= limits_m[1]:
        raise CarError(
            f"{name} is {value!r}; it must be {1e3 * limits_m[0]:g} to {1e3 * limits_m[1]:g} mm, "
            "check the number and the unit"
        )
    return got_m


def place_m(value: object, name: str, limits_m: tuple[float, float]) -> float:
    """Read a length that may be zero.

    Raises
    ------
    CarError
        It is not that.
    """
    at_start = isinstance(value, str) and value.split() in _ZERO
    return 0.0 if at_start else length_m(value, name, limits_m)


def temperature_k(value: object, name: str) -> Interval:
    """Read a gas temperature, one or a range.

    Raises
    ------
    CarError
        It is not that.
    """
    return _quantity(value, name, parse_temperature_range_k, "250 degC")


def _quantity(value: object, name: str, parse: Callable[[str], _T], example: str) -> _T:
    if not isinstance(value, str):
        raise CarError(f'{name} must be text with a unit, like "{example}", got {value!r}')
    try:
        return parse(value)
    except QuantityError as error:
        raise CarError(f"{name}: {error}") from error


def rpm_range(value: object, name: str) -> tuple[float, float]:
    """Read two engine speeds that rise.

    Raises
    ------
    CarError
        It is not that.
    """
    if (
        not isinstance(value, list)
        or len(value) != 2
        or not all(isinstance(end, int | float) and not isinstance(end, bool) for end in value)
    ):
        raise CarError(f"{name} must be two numbers like [1200, 3600], got {value!r}")
    low, high = float(value[0]), float(value[1])
    if not _RPM[0] <= low < high <= _RPM[1]:
        raise CarError(
            f"{name} must rise and lie between {_RPM[0]:g} and {_RPM[1]:g} rpm, got {value!r}"
        )
    return low, high


def whole_number(value: object, name: str, allowed: Iterable[int], text: str) -> int:
    """Read a whole number, one of those allowed.

    Raises
    ------
    CarError
        It is not that.
    """
    if not isinstance(value, int) or isinstance(value, bool) or value not in allowed:
        raise CarError(f"{name} must be {text}, got {value!r}")
    return value


def table_of(data: Mapping[str, object], name: str, known: tuple[str, ...]) -> Mapping[str, object]:
    """Take a table whose keys are all known.

    Raises
    ------
    CarError
        It is not that.
    """
    table = data.get(name, {})
    if not isinstance(table, dict):
        raise CarError(f"{name} must be a table, written as [{name}]")
    only_known(table, known, f"[{name}]")
    return table


def optional(table: Mapping[str, object], key: str, read: Callable[[object, str], _T]) -> _T | None:
    """Read a value if its key is there.

    Raises
    ------
    CarError
        It is not that.
    """
    return read(table[key], key) if key in table else None


def only_known(table: Mapping[str, object], names: tuple[str, ...], where: str) -> None:
    """Refuse a key that is not known, with the nearest one that is.

    Raises
    ------
    CarError
        It is not that.
    """
    for key in table:
        if key not in names:
            near = difflib.get_close_matches(key, names, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]}?" if near else f"known there: {', '.join(names)}"
            raise CarError(f"unknown key {key!r} in {where}; {hint}")
