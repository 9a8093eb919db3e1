"""Values and tables of a car file: checked, and every wrong word named.

Whatever is not as a reader here says is refused with a CarError, by the name that it was given.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import difflib
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TypeVar

from analysis.basics.interval import Interval
from analysis.basics.units import parse_length_m, parse_temperature_range_k
from analysis.errors import CarError, QuantityError
from analysis.words.lengths import both

# judgement: no car has speeds beyond; such a value is a slip of unit and refused.
_RPM = (100.0, 20_000.0)

_LONGEST_SHOWN = 60  # judgement: signs of a wrong value that are told; moves no answer

_ZERO = (["0", "m"], ["0", "mm"], ["0", "in"])

_T = TypeVar("_T")


def shown(value: object) -> str:
    """Write a value as it was read, cut short where it is long."""
    try:
        text = repr(value)
    except ValueError:  # a number of thousands of digits
        text = "a very long number"
    return text if len(text) <= _LONGEST_SHOWN else f"{text[:_LONGEST_SHOWN]}..."


def length_m(
    value: object,
    name: str,
    limits_m: tuple[float, float],
    read: Callable[[str], float] = parse_length_m,
) -> float:
    """Read a length within limits; ``read`` where it may be said in another way than by a unit."""
    got_m = _quantity(value, name, read, "63.5 mm")
    if not limits_m[0] <= got_m <= limits_m[1]:
        raise CarError(
            f"{name} is {shown(value)}; it must be {both(limits_m[0])} to "
            f"{both(limits_m[1])}, check the number and the unit"
        )
    return got_m


def bore_m(value: object, name: str, limits_m: tuple[float, float]) -> float:
    """Read how wide something is, within limits."""
    if _quantity(value, name, parse_length_m, "63.5 mm") < limits_m[0]:
        raise CarError(
            f"{name} is {shown(value)}, and no car's exhaust is that narrow; it must be "
            f"{both(limits_m[0])} or more, check the number and the unit"
        )
    return length_m(value, name, limits_m)


def place_m(value: object, name: str, limits_m: tuple[float, float]) -> float:
    """Read a length that may be zero."""
    at_start = isinstance(value, str) and value.split() in _ZERO
    return 0.0 if at_start else length_m(value, name, limits_m)


def temperature_k(value: object, name: str) -> Interval:
    """Read a gas temperature, one or a range."""
    return _quantity(value, name, parse_temperature_range_k, "250 degC")


def _quantity(value: object, name: str, parse: Callable[[str], _T], example: str) -> _T:
    if not isinstance(value, str):
        raise CarError(f'{name} must be text with a unit, like "{example}", got {shown(value)}')
    try:
        return parse(value)
    except QuantityError as error:
        raise CarError(f"{name}: {error}") from error


def rpm_range(value: object, name: str) -> tuple[float, float]:
    """Read two engine speeds that rise."""
    if (
        not isinstance(value, list)
        or len(value) != 2
        or not all(isinstance(end, int | float) and not isinstance(end, bool) for end in value)
    ):
        raise CarError(f"{name} must be two numbers like [1200, 3600], got {shown(value)}")
    low, high = value
    if not _RPM[0] <= low < high <= _RPM[1]:
        raise CarError(
            f"{name} must rise and lie between {_RPM[0]:g} and {_RPM[1]:g} rpm, got {shown(value)}"
        )
    return float(low), float(high)


def whole_number(value: object, name: str, allowed: Iterable[int], text: str) -> int:
    """Read a whole number, one of those allowed."""
    if isinstance(value, str) and value.strip().isdecimal():
        raise CarError(f"{name} must be a number without quotes; write {name} = {value.strip()}")
    # true is an int in Python, and would pass for 1
    if not isinstance(value, int) or isinstance(value, bool) or value not in allowed:
        raise CarError(f"{name} must be {text}, got {shown(value)}")
    return value


def table_of(data: Mapping[str, object], name: str, known: tuple[str, ...]) -> Mapping[str, object]:
    """Take a table whose keys are all known."""
    table = data.get(name, {})
    if not isinstance(table, dict):
        raise CarError(f"{name} must be a table, written as [{name}]")
    only_known(table, known, f"[{name}]")
    return table


def optional(table: Mapping[str, object], key: str, read: Callable[[object, str], _T]) -> _T | None:
    """Read a value if its key is there."""
    return read(table[key], key) if key in table else None


def tables(value: object, name: str, of: str = "") -> Iterator[tuple[str, Mapping[str, object]]]:
    """Take all tables written as ``[[name]]``, each with what to call it, such as 'section 2'."""
    called = name.rpartition(".")[2]
    if not isinstance(value, list):
        raise CarError(f"{called} must be written as [[{name}]] tables")
    for number, item in enumerate(value, start=1):
        if not isinstance(item, dict):
            raise CarError(f"{called} {number}{of} must be a table, written under [[{name}]]")
        yield f"{called} {number}{of}", item


def only_known(
    table: Mapping[str, object],
    names: tuple[str, ...],
    where: str,
    needed: tuple[str, ...] = (),
) -> None:
    """Refuse a key that is not known, with the nearest one that is, and a table without one."""
    for key in table:
        if key not in names:
            # lower case: "CYLINDERS" would be like no name at all
            near = difflib.get_close_matches(key.lower(), names, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]}?" if near else f"known there: {', '.join(names)}"
            raise CarError(f"unknown key {shown(key)} in {where}; {hint}")
    for key in needed:
        if key not in table:
            raise CarError(f"{where} lacks {key}")
