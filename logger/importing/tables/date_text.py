"""Dates as people's files write them; open ones are told as such."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import unicodedata
from collections.abc import Iterable
from datetime import date

DATE_ORDERS = ("dmy", "mdy")
_YEARS = (1990, 2100)  # judgement: no log of a car is older, and none is of the next century

# Beginnings of month names, plain and lower-case: English, German, French, Spanish, Portuguese,
# Italian, Dutch, Indonesian, Russian. Common practice, no source.
_MONTHS = (
    ("jan", "ene", "gen", "янв"),
    ("feb", "fev", "fev", "фев"),
    ("mar", "mrz", "maer", "maa", "мар"),
    ("apr", "avr", "abr", "апр"),
    ("may", "mai", "mag", "mei", "мая", "маи"),
    ("jun", "juin", "giu", "июн"),
    ("jul", "juil", "lug", "июл"),
    ("aug", "aou", "ago", "agu", "авг"),
    ("sep", "set", "сен"),
    ("oct", "okt", "out", "ott", "окт"),
    ("nov", "ноя"),
    ("dec", "dez", "dic", "des", "дек"),
)
_NUMBERS = re.compile(r"(?<![\d.:])(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?![\d:])")
_EAST_ASIAN = re.compile(r"(\d{4})\s*[年년]\s*(\d{1,2})\s*[月월]\s*(\d{1,2})\s*[日일]")
_GAP = r"[\s.,-]{0,3}(?:de )?"
_DAY_MONTH = re.compile(
    rf"(?<!\d)(\d{{1,2}}){_GAP}([^\W\d_]{{3,12}}){_GAP}(\d{{4}}|\d{{2}})(?![\d:])"
)
_MONTH_DAY = re.compile(
    r"([^\W\d_]{3,12})[\s.,-]{0,3}(\d{1,2})(?:st|nd|rd|th)?[\s,-]{1,3}(\d{4})(?![\d:])"
)
_LONGEST_LINE = 200  # judgement: a line that tells a date is short; bounds the patterns


def possible_dates(text: str) -> tuple[date, ...]:
    """Give the date in a text: none, the one it must be, or day first and month first."""
    text = text[:_LONGEST_LINE]
    in_words = ((_EAST_ASIAN, (1, 2, 3)), (_DAY_MONTH, (3, 2, 1)), (_MONTH_DAY, (3, 1, 2)))
    for pattern, places in in_words:  # the places of year, month and day
        for worded in pattern.finditer(text):
            year, month, day = (worded[place] for place in places)
            made = _date(year, month if month.isdigit() else str(_month(month)), day)
            if made is not None:
                return (made,)
    found = _NUMBERS.search(text)
    if found is None:
        return ()
    first, sign, second, third = found.groups()
    readings: list[date | None] = []
    if len(first) == 4 and len(third) <= 2:
        readings = [_date(first, second, third)]
    # two figures of a year between shorter ones may as well be a version: 1.2.25
    elif len(third) == 4 or (len(third) == 2 and (sign == "/" or len(first) == len(second) == 2)):
        readings = [_date(third, second, first), _date(third, first, second)]
    return tuple(dict.fromkeys(each for each in readings if each is not None))


def settle_order(texts: Iterable[str]) -> str | None:
    """Tell from many dates whether day or month comes first; None where either may be."""
    for text in texts:
        found = _NUMBERS.search(text[:_LONGEST_LINE])
        dates = possible_dates(text)
        if found is not None and len(found[1]) <= 2 and len(dates) == 1 and found[1] != found[3]:
            return "dmy" if int(found[1]) == dates[0].day else "mdy"
    return None


def _month(name: str) -> int:
    decomposed = unicodedata.normalize("NFKD", name.lower())
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    found = (at for at, each in enumerate(_MONTHS, start=1) if plain.startswith(each))
    return next(found, 0)


def _date(year: str, month: str, day: str) -> date | None:
    number = int(year) + (2000 if len(year) == 2 else 0)
    try:
        made = date(number, int(month), int(day))
    except ValueError:
        return None
    return made if _YEARS[0] <= number <= _YEARS[1] else None
