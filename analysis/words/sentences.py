"""Sentences put together as a person writes them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Sequence

from analysis.words.front import here

# "branch 2 in by 38 mm" holds no two inches
_NUMBER_AND_UNIT = re.compile(
    r"(?<!ranch\u00a0)(\d) (?=(?:dB|Hz|rpm|mm|in|°C|°F|s|ms|min|ppm|m)\b|\d+/\d+ in|%)"
)
_WHICH = re.compile(r"\b([Bb]ranch) (?=\d)")
# behind a figure or a letter it is a range, a date or a hyphen
_NEGATIVE = re.compile(r"(?<![\w.,)-])-(\d)")
_HEADING_WORDS = 3  # judgement: so few words before a colon are a name or a label, no clause


def listed(items: Sequence[str], last: str = "and") -> str:
    """Join with commas, and 'and' before the last."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def first_clause(text: str) -> str:
    """Give a text up to its first full stop or colon, without it.

    What stands before a colon as a mere heading, such as the name of a pipe, is no clause.
    """
    sentence = text.partition(". ")[0].rstrip(".")
    clause = sentence.partition(": ")[0]
    return clause if len(clause.split()) > _HEADING_WORDS else sentence


def sentence(text: str) -> str:
    """Capital at the start, unless that is a name such as obd:auto; full stop at the end."""
    text = text.strip()
    if not text:
        return text
    if not set(":/_") & set(text.split()[0].rstrip(":")):
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else f"{text}."


def lowered(text: str) -> str:
    """Small letter at the start, for a sentence that goes on."""
    return text[:1].lower() + text[1:]


def typeset(text: str) -> str:
    """Set true minus signs, and each number on one line with its unit, or with what it numbers.

    Commands are named as its reader knows them.
    """
    numbered = _WHICH.sub("\\1\u00a0", _NEGATIVE.sub("−\\1", here(text)))
    return _NUMBER_AND_UNIT.sub("\\1\u00a0", numbered)
