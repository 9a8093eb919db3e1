"""Results as JSON knows them; their documents are made of these."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import fields, is_dataclass
from enum import Enum

from analysis.basics.interval import Interval

Json = bool | float | str | list["Json"] | dict[str, "Json"] | None


def number(value: float | None, decimals: int | None = None) -> float | None:
    """JSON knows neither NaN nor infinity; six digits are more than any result holds."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}") if decimals is None else round(float(value), decimals)


def plain(value: object) -> Json:
    """Give a value, a tuple of them, or a whole frozen result as plain data, field by field.

    An interval becomes its low and high end. TypeError for what no result holds.
    """
    if isinstance(value, Interval):
        return [number(value.low), number(value.high)]
    if isinstance(value, Enum):
        return plain(value.value)
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return number(value)
    if isinstance(value, tuple):
        return [plain(each) for each in value]
    if is_dataclass(value):
        return picked(value, *(each.name for each in fields(value)))
    raise TypeError(f"no result holds a {type(value).__name__}")


def picked(result: object, *names: str) -> dict[str, Json]:
    """Give these fields of a result as plain data, each under its own name."""
    return {name: plain(getattr(result, name)) for name in names}


def renamed(result: object, **names: str) -> dict[str, Json] | None:
    """Give fields of a result as plain data, by their older names in JSON; None for no result."""
    if result is None:
        return None
    return {name: plain(getattr(result, field)) for name, field in names.items()}
