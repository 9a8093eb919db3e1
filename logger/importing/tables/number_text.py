"""Numbers as people's files write them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.errors import TelemetryError
from logger.importing.tables.units import unit_quantity

MISSING_MARKS = frozenset(
    (
        *("", "-", "--", "---", "?", "*", "—", "–"),
        *("n/a", "na", "nan", "#n/a", "#n/v", "null", "none", "nil", "nodata", "no data"),
        *("k.a.", "n.v."),
    )
)

_LARGEST = 1e20  # nanoseconds since 1970 are below 1e19
_NUMBER = re.compile(
    r"[+-]?(\d+([.,]\d+)*[.,]?|[.,]\d+)([eE][+-]?\d+)?",
)
# "842 rpm", "-1.60s"; what follows is a unit, and starts with no digit
_WITH_UNIT = re.compile(r"([+-]?[\d.,'’ \u00a0\u2009\u202f]*\d[.,]?)\s*([^\d\s.,'’+-].{0,20})")
# thousands parted by blanks or apostrophes, as ISO 80000-1 and Swiss custom have it
_PARTED = re.compile(r"[+-]?\d{1,3}(?:[ \u00a0\u2009\u202f'’]\d{3})+(?:[.,]\d*)?")
_PARTED_BY_COMMAS = re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?")
_PARTING = re.compile(r"[ \u00a0\u2009\u202f'’]")
# judgement: no number with its unit is longer; keeps patterns from running over whole pages
_LONGEST_CELL = 64
DECIMAL_SIGNS = {"point": ".", "comma": ","}


def looks_like_number(cell: str) -> bool:
    """Say whether a cell is a number, with whichever decimal sign, and maybe with its unit."""
    return _NUMBER.fullmatch(split_unit(cell)[0]) is not None


def split_unit(cell: str) -> tuple[str, str]:
    """Part ``1 842.5 rpm`` into ``1842.5`` and its unit, empty when there is no known one."""
    text = cell.strip()
    if not text or len(text) > _LONGEST_CELL or _NUMBER.fullmatch(text):
        return text, ""
    unit = ""
    found = _WITH_UNIT.fullmatch(text)
    if found and unit_quantity(found[2]) and not unit_quantity(text):  # "1/min" is a unit
        text, unit = found[1].strip(), found[2].strip()
    if _PARTED.fullmatch(text):
        text = _PARTING.sub("", text)
    return text, unit


def sign_of_option(option: str, text: str, signs: Mapping[str, str]) -> str:
    """Give the sign that a person named with an option: by a key of ``signs``, or as it is."""
    sign = signs.get(text.strip().lower(), text)
    if sign not in signs.values():
        *others, last = signs
        raise TelemetryError(f"{option} {text} is not known; use {', '.join(others)} or {last}")
    return sign


def find_decimal_sign(cells: Iterable[str]) -> str:
    """Tell the decimal sign from many cells.

    A sign followed by exactly three digits may as well part the thousands, so only other cells
    count as evidence.

    Raises
    ------
    TelemetryError
        The cells contradict each other, or hold nothing but ``1,234``.
    """
    evidence = {",": 0, ".": 0}
    open_commas = ""
    for cell in cells:
        text = split_unit(cell)[0]
        has_comma, has_point = "," in text, "." in text
        if not (has_comma or has_point) or not looks_like_number(text):
            continue
        if has_comma and has_point:
            evidence[max(",.", key=text.rindex)] += 1
        elif _is_clearly_decimal(text, "," if has_comma else "."):
            evidence["," if has_comma else "."] += 1
        elif has_comma:
            open_commas = open_commas or text
    if evidence[","] and evidence["."]:
        raise TelemetryError(
            "some numbers have a decimal comma and some a decimal point; "
            "give --decimal comma or --decimal point"
        )
    if not any(evidence.values()) and open_commas:
        raise TelemetryError(
            f'numbers such as "{open_commas}" may have a decimal comma or parted thousands; '
            "give --decimal comma or --decimal point"
        )
    return "," if evidence[","] else "."


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """Cells as numbers.

    Attributes
    ----------
    values : ndarray [shape=(n,)]
        NaN where there is no number.
    units : dict of str to list of int
        Units that stood in cells, and in which.
    not_numbers : int
        How many cells held neither a finite number nor nothing, nor a mark such as ``-``.
    """

    values: NDArray[np.float64]
    units: dict[str, list[int]]
    not_numbers: int


def parse_numbers(cells: Sequence[str], decimal: str) -> Numbers:
    """Turn cells into numbers."""
    values = np.full(len(cells), np.nan)
    units: dict[str, list[int]] = {}
    not_numbers = 0
    for index, cell in enumerate(cells):
        text, unit = split_unit(cell)
        if unit:
            units.setdefault(unit, []).append(index)
        if decimal == ",":
            text = _with_point(text)
        elif "," in text and _PARTED_BY_COMMAS.fullmatch(text):
            text = text.replace(",", "")
        values[index] = value = finite_number(text)
        not_numbers += value != value and text.lower() not in MISSING_MARKS
    return Numbers(values=values, units=units, not_numbers=not_numbers)


def finite_number(text: str) -> float:
    """Read a number with a decimal point; NaN where it is none, or larger than any reading."""
    try:
        value = float(text)
    except ValueError:
        return float("nan")
    # float() takes 1_000, NaN and infinity
    return value if "_" not in text and abs(value) <= _LARGEST else float("nan")


def _is_clearly_decimal(text: str, sign: str) -> bool:
    whole, _, fraction = text.lstrip("+-").partition(sign)
    if sign in fraction:
        return False
    digits = re.match(r"\d*", fraction)
    count = 0 if digits is None else len(digits.group())
    return count != 3 or len(whole) > 3 or whole in ("", "0")


def _with_point(text: str) -> str:
    if "," in text:
        return text.replace(".", "").replace(",", ".") if text.count(",") == 1 else text
    return text.replace(".", "") if re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+", text) else text
