"""Numbers as people's files write them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from logger.errors import TelemetryError

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
DECIMAL_SIGNS = {"point": ".", "comma": ","}


def looks_like_number(cell: str) -> bool:
    """Say whether a cell is a number, with whichever decimal sign."""
    return _NUMBER.fullmatch(cell.strip()) is not None


def sign_of_option(option: str, text: str, signs: Mapping[str, str]) -> str:
    """Give the sign that a person named with an option: by a key of ``signs``, or as it is.

    Raises
    ------
    TelemetryError
        It is none of them.
    """
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
        text = cell.strip()
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


def parse_numbers(cells: Sequence[str], decimal: str) -> tuple[NDArray[np.float64], int, int]:
    """Turn cells into numbers.

    Returns
    -------
    values : ndarray [shape=(n,)]
        NaN where there is no number.
    missing : int
        How many cells were empty or a mark such as ``-``.
    not_numbers : int
        How many held something else that is no finite number.
    """
    thousands = "." if decimal == "," else ","
    values = np.full(len(cells), np.nan)
    missing = not_numbers = 0
    for index, cell in enumerate(cells):
        text = cell.strip()
        if decimal == ",":
            text = _with_point(text)
        elif thousands in text:
            text = _without_thousands(text)
        try:
            value = float(text)
        except ValueError:
            value = np.nan
        if "_" not in text and abs(value) <= _LARGEST:  # float() takes 1_000, NaN and infinity
            values[index] = value
        elif text.lower() in MISSING_MARKS:
            missing += 1
        else:
            not_numbers += 1
    return values, missing, not_numbers


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


def _without_thousands(text: str) -> str:
    if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?", text):
        return text.replace(",", "")
    return text
