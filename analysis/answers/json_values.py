"""Results as JSON knows them, rounded; their documents are made of these.

Numbers are rounded to six digits, or to so many decimals; unknown ones are null.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import fields, is_dataclass
from enum import Enum

from analysis.basics.interval import Interval
from analysis.basics.units import ZERO_C_K

Json = bool | float | str | list["Json"] | dict[str, "Json"] | None


def number(value: float | None, decimals: int | None = None) -> float | None:
    """JSON knows neither NaN nor infinity; six digits are more than any result holds."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}") if decimals is None else round(float(value), decimals)


def plain(value: object, decimals: int | None = None) -> Json:
    """Give a value, a tuple of them, or a whole frozen result as plain data, field by field.

    An interval becomes its low and high end. TypeError for what no result holds.
    """
    if isinstance(value, Interval):
        return [number(value.low, decimals), number(value.high, decimals)]
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return number(value, decimals)
    if isinstance(value, tuple):
        return [plain(each, decimals) for each in value]
    if is_dataclass(value):
        return picked(value, *(each.name for each in fields(value)), decimals=decimals)
    raise TypeError(f"no result holds a {type(value).__name__}")


def picked(result: object, *names: str, decimals: int | None = None) -> dict[str, Json]:
    """Give these fields of a result as plain data, each under its own name."""
    return {name: plain(getattr(result, name), decimals) for name in names}


def millimetres(length_m: float | Interval | None, decimals: int | None = None) -> Json:
    """Give a length, or both ends of a range."""
    if isinstance(length_m, Interval):
        return [millimetres(end_m, decimals) for end_m in (length_m.low, length_m.high)]
    return None if length_m is None else number(1e3 * length_m, decimals)


def celsius(temperature_k: float | Interval, decimals: int | None = None) -> Json:
    """Give a temperature, or both ends of a range."""
    if isinstance(temperature_k, Interval):
        return [celsius(end_k, decimals) for end_k in (temperature_k.low, temperature_k.high)]
    return number(temperature_k - ZERO_C_K, decimals)


def renamed(result: object, **names: str) -> dict[str, Json] | None:
    """Give fields of a result as plain data, by their older names in JSON; None for no result."""
    if result is None:
        return None
    return {name: plain(getattr(result, field)) for name, field in names.items()}
