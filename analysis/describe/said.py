"""Lengths and places as people say them, turned into what a car file holds."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re

from analysis.basics.units import INCH_M, parse_length_m, parse_temperature_range_k
from analysis.errors import CarError, QuantityError

_BARE = re.compile(r"[0-9]+([.,][0-9]+)?|[.][0-9]+|([0-9]+[ -]+)?[0-9]+ */ *[0-9]+")
_PLAIN_UNIT = re.compile(r"[0-9][0-9 ./,-]*(mm|cm|m|in|ft)( [0-9][0-9 ./-]*in)?")
NUMBER = r"(?:[0-9]+[ -][0-9]+ */ *[0-9]+|[0-9]+ */ *[0-9]+|[0-9]*[.,]?[0-9]+)"
UNIT = r"""(?:mm|cm|m(?:et(?:re|er)s?)?|in(?:ch(?:es)?)?|ft|feet|foot|"|”|″|''|'|’|′)(?![a-z])"""
_TO = re.compile(r"\s*(?:\bto\b|\.\.\.?|…|–|-)\s*")
# words that people say before a thing or a length, and that change nothing of it
_BEFORE = re.compile(r"^(?:(?:an?|the|my|from|between|up to|about)\s+)+", re.I)
_AND = re.compile(r"\s*(?:;|,(?![0-9])|\band\b)\s*")  # a comma before a digit is a decimal one
_RANGE = re.compile(r"([0-9]{2,5})\s*(?:to|-|–|\.\.|,| )\s*([0-9]{2,5})")


def without_little_words(text: str) -> str:
    """Leave out what people say before a thing or a length: 'a can', 'up to 1 m'."""
    return _BEFORE.sub("", text.strip())


def with_unit(text: str, unit: str) -> str:
    """Give a bare number the unit, which may be ""; anything else stays as it was typed."""
    told = text.strip()
    return f"{told} {unit}".strip() if _BARE.fullmatch(told) else told


def length(text: str, unit: str) -> str:
    """Give a length with its unit; a bare number is in ``unit``, which may be "".

    Raises
    ------
    CarError
        It is no length, or has no unit.
    """
    told = with_unit(text, unit)
    if _BARE.fullmatch(told):
        raise CarError(f"{told!r} has no unit: {_likely(told)}")
    try:
        length_m = parse_length_m(told)
    except QuantityError as error:
        raise CarError(str(error)) from error
    return told.lower() if _PLAIN_UNIT.fullmatch(told.lower()) else f"{length_m / INCH_M:.3f} in"


def _likely(bare: str) -> str:
    """Ask for the unit that a bare number of an exhaust most likely has."""
    if re.fullmatch(r"0*[0-9]([.,][0-9]+)?", bare):
        return f"metres? Then type {bare} m; a width: {bare} in"
    return f"millimetres? Then type {bare} mm; inches: {bare} in"


def one_or_two_lengths(text: str, unit: str) -> list[str]:
    """Read a length, or two with a comma between.

    Raises
    ------
    CarError
        It is not that.
    """
    return [length(without_little_words(part), unit) for part in _one_or_two(text)]


def one_or_two_temperatures(text: str) -> list[str]:
    """Read a gas temperature, or two with a comma between, each one value or a range.

    Raises
    ------
    CarError
        It is not that, or has no unit.
    """
    parts = _one_or_two(text)
    try:
        for part in parts:
            parse_temperature_range_k(part)
    except QuantityError as error:
        raise CarError(str(error)) from error
    return [part.replace("°", "deg") for part in parts]


def _one_or_two(text: str) -> list[str]:
    parts = _AND.split(text.strip())
    if len(parts) > 2 or not all(parts):
        raise CarError("give one or two, with a comma and a space between")
    return parts


def places(text: str, unit: str) -> list[list[str]]:
    """Read stretches such as '0.3 m to 1.4 m, 2.2 m to 3.7 m'.

    Raises
    ------
    CarError
        One of them has not two ends.
    """
    read = []
    for part in _AND.split(text.strip()):
        ends = _TO.split(without_little_words(part))
        if len(ends) != 2 or not all(ends):
            raise CarError("say from where to where, for example: 0.3 m to 1.4 m")
        last = length(ends[1], unit)
        unit_there = last.rpartition(" ")[2] if " " in last else unit
        zero = re.fullmatch(r"0+(?:[.,]0+)?\s*[a-z\"']*", ends[0])
        read.append(["0 m" if zero else length(ends[0], unit_there), last])
    return read


def rpm_range(text: str) -> list[int]:
    """Read two engine speeds such as '1200 to 3600'.

    Raises
    ------
    CarError
        It is not that.
    """
    found = _RANGE.fullmatch(
        re.sub(r"\s*rpm\b|(?<=[0-9]),(?=[0-9]{3}\b)", "", text.strip().lower())
    )
    if found is None:
        raise CarError("give the lowest and the highest engine speed, for example: 1200 to 3600")
    return [int(found[1]), int(found[2])]
