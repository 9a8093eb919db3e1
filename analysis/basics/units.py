"""Read lengths and temperatures as people type them: '2 1/2 in', '63,5 mm', '250 degC'.

Values become SI here, at the border, and nowhere else. A number without a unit is refused, and so
is what could be meant in two ways ('1,000 mm').
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from analysis.basics.interval import Interval
from analysis.errors import QuantityError

INCH_M = 0.0254
ZERO_C_K = 273.15
_LONGEST_TEXT = 60

_VULGAR = str.maketrans(
    {
        "¼": " 1/4",
        "½": " 1/2",
        "¾": " 3/4",
        "⅛": " 1/8",
        "⅜": " 3/8",
        "⅝": " 5/8",
        "⅞": " 7/8",
        "”": '"',
        "″": '"',
        "’": "'",
        "′": "'",
        "º": "°",
        "−": "-",
        "\u00a0": " ",
    }
)

_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*"
    r"(?:(?:(?P<whole>[0-9]+)(?:\s+|\s*-\s*))?(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)"
    r"|(?P<decimal>[0-9]+(?:[.,][0-9]+)?|[.][0-9]+))"
)
_FEET_AND_INCHES = re.compile(r"(?P<feet>[0-9]+)\s*(?:ft|feet|foot|')\s*(?P<inches>[0-9].*)")
_RANGE = re.compile(r"(?P<low>.+?)\s*(?:\.\.\.?|…|–|\bto\b)\s*(?P<high>.+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """One kind of quantity: its units as functions to SI, and what is still possible."""

    name: str
    to_si: Mapping[str, Callable[[float], float]]
    lowest: float
    highest: float
    limits: str
    example: str


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


# Millimetre and centimetre, inch and foot: exact, by definition.
_LENGTH = _Kind(
    name="length",
    to_si={
        **dict.fromkeys(("mm", "millimetre", "millimeter", "millimetres"), _times(1e-3)),
        **dict.fromkeys(("cm", "centimetre", "centimeter"), _times(1e-2)),
        **dict.fromkeys(("m", "metre", "meter", "metres", "meters"), _times(1.0)),
        **dict.fromkeys(("in", "inch", "inches", '"', "''", "in."), _times(INCH_M)),
        **dict.fromkeys(("ft", "foot", "feet", "'"), _times(12 * INCH_M)),
    },
    lowest=1e-4,
    highest=100.0,
    limits="0.1 mm to 100 m",
    example="'63.5 mm' or '2 1/2 in'",
)

# Zero Celsius and zero Fahrenheit in kelvins: exact, by definition.
_TEMPERATURE = _Kind(
    name="temperature",
    to_si={
        **dict.fromkeys(("degc", "°c", "c", "deg c"), lambda value: value + ZERO_C_K),
        **dict.fromkeys(("degf", "°f", "f", "deg f"), lambda value: (value + 459.67) / 1.8),
        **dict.fromkeys(("k", "kelvin"), _times(1.0)),
    },
    lowest=213.15,
    highest=1473.15,
    limits="-60 to 1200 degC",
    example="'250 degC' or '480 degF'",
)


def parse_length_m(text: str) -> float:
    """Length in metres from text such as '2.5 in', '2-1/2"', '63,5 mm', '5 ft 6 in'.

    Raises
    ------
    QuantityError
        No unit, an unknown unit, an ambiguous number, or not between 0.1 mm and 100 m.
    """
    clean = _clean(text, _LENGTH)
    compound = _FEET_AND_INCHES.fullmatch(clean)
    if compound:
        inches, unit = _split(compound["inches"], text, _LENGTH)
        if unit in ("in", "inch", "inches", '"', "''", "in.") and inches < 12:
            return _within((12 * float(compound["feet"]) + inches) * INCH_M, text, _LENGTH)
    return _quantity(clean, text, _LENGTH)


def parse_temperature_range_k(text: str) -> Interval:
    """Temperature range in kelvin from '100..200 degC'; one temperature gives equal ends.

    Such as '250 degC', '250 °C', '480 degF', '500 K'. The first end takes the unit of the second
    when it has none.

    Raises
    ------
    QuantityError
        No unit, an unknown unit, an ambiguous number, not between -60 and 1200 degC, or ends in
        the wrong order.
    """
    clean = _clean(text, _TEMPERATURE)
    both = _RANGE.fullmatch(clean)
    if not both:
        only = _quantity(clean, text, _TEMPERATURE)
        return Interval(low=only, high=only)
    _, unit = _split(both["high"], text, _TEMPERATURE)
    low_text = both["low"] if not _NUMBER.fullmatch(both["low"]) else f"{both['low']} {unit}"
    low = _quantity(low_text, text, _TEMPERATURE)
    high = _quantity(both["high"], text, _TEMPERATURE)
    if low > high:
        raise QuantityError(
            f"temperature range {text!r} runs from hot to cold; write the lower end first"
        )
    return Interval(low=low, high=high)


def _clean(text: str, kind: _Kind) -> str:
    if len(text) > _LONGEST_TEXT:
        raise QuantityError(
            f"{kind.name} {text[:20]!r}... is too long to be one; write it like {kind.example}"
        )
    return text.translate(_VULGAR).strip().lower()


def _quantity(clean: str, text: str, kind: _Kind) -> float:
    value, unit = _split(clean, text, kind)
    return _within(kind.to_si[unit](value), text, kind)


def _split(clean: str, text: str, kind: _Kind) -> tuple[float, str]:
    match = _NUMBER.match(clean)
    if not match:
        raise QuantityError(
            f"{kind.name} {text!r} does not start with a number; write it like {kind.example}"
        )
    rest = clean[match.end() :]
    if re.match(r"[.,][0-9]", rest):
        raise QuantityError(
            f"{kind.name} {text!r} has more than one point or comma; "
            "write a point for the decimals and nothing between thousands"
        )
    # the hyphen of 60-mm tube
    unit = rest.strip().removeprefix("-").strip()
    if unit == "":
        raise QuantityError(f"{kind.name} {text!r} has no unit; write it like {kind.example}")
    if unit not in kind.to_si:
        raise QuantityError(
            f"{kind.name} {text!r} has a unit that is not known here; write it like {kind.example}"
        )
    return _number(match, text, kind), unit


def _number(match: re.Match[str], text: str, kind: _Kind) -> float:
    if match["decimal"] is not None:
        value = _decimal(match["decimal"], text, kind)
    else:
        under = int(match["under"])
        if under == 0:
            raise QuantityError(f"{kind.name} {text!r} divides by zero; write like {kind.example}")
        value = int(match["whole"] or 0) + int(match["over"]) / under
    return -value if match["sign"] == "-" else value


def _decimal(digits: str, text: str, kind: _Kind) -> float:
    before, comma, after = digits.partition(",")
    if comma and len(after) == 3 and before.strip("0"):
        raise QuantityError(
            f"{kind.name} {text!r} can be read in two ways: {before}.{after} or {before}{after}; "
            "write a point for the decimals and nothing between thousands"
        )
    return float(digits.replace(",", "."))


def _within(value_si: float, text: str, kind: _Kind) -> float:
    slack = 1e-9 * kind.highest  # what a limit written in another unit may be rounded by
    if not kind.lowest - slack <= value_si <= kind.highest + slack:
        raise QuantityError(
            f"{kind.name} {text!r} is not possible here; it must be {kind.limits}, check the unit"
        )
    return value_si
