"""Numbers and names as a builder reads them, metric and inch side by side."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import re

from analysis.drive import Engine
from analysis.words import quantities

_NUMBER_AND_UNIT = re.compile(r"(\d) (?=(?:dB|Hz|rpm|mm|in|°C|°F|s|ms|min|ppm|m)\b|\d+/\d+ in|%)")
_NEGATIVE = re.compile(r"(?<![\w.,)-])-(\d)")
_MM_PER_INCH = 25.4
_SIXTEENTHS = 16
_ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth"}
_HARMONICS = {0.5: "half the firing order", 1.0: "firing", 2.0: "twice firing", 3.0: "3 x firing"}


def number(value: float, decimals: int = 0) -> str:
    """Write a number with thousands commas and a true minus sign; 'not known' when not finite."""
    if not math.isfinite(value):
        return "not known"
    text = f"{value:,.{decimals}f}"
    if float(text.replace(",", "")) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def rpm(value: float) -> str:
    """Engine speed to 10 rpm: no drive supports more digits."""
    return f"{number(round(value, -1))} rpm"


def hertz(value: float) -> str:
    """Frequency; one decimal below 100 Hz."""
    return f"{number(value, 0 if value >= 100.0 else 1)} Hz"


def decibel(value: float, decimals: int = 0) -> str:
    """Level or level difference, without a plus sign."""
    if not math.isfinite(value):
        return number(value)
    return f"{number(value, decimals)} dB"


def change(value_db: float, decimals: int = 1) -> str:
    """Level change with its sign."""
    sign = "+" if math.isfinite(value_db) and round(value_db, decimals) > 0 else ""
    return sign + decibel(value_db, decimals)


def quieter(change_db: float) -> str:
    """Level change in plain words: '14 dB quieter'."""
    return f"{decibel(abs(change_db))} {'louder' if change_db > 0 else 'quieter'}"


def quieter_between(low_db: float, high_db: float) -> str:
    """Interval of a level change: 'between 12.9 and 15.6 dB quieter'."""
    near, far = sorted((abs(low_db), abs(high_db)))
    if low_db < 0 < high_db:
        return f"between {decibel(-low_db, 1)} quieter and {decibel(high_db, 1)} louder"
    word = "louder" if low_db > 0 else "quieter"
    return f"between {number(near, 1)} and {decibel(far, 1)} {word}"


def inch_fraction(length_m: float) -> str:
    """Inches to the nearest sixteenth, as on a tape: 0.702 m is '27 5/8 in'."""
    total = round(abs(length_m) * 1000.0 / _MM_PER_INCH * _SIXTEENTHS)
    whole, part = divmod(total, _SIXTEENTHS)
    sign = "−" if length_m < 0 and total else ""
    if part == 0:
        return f"{sign}{whole} in"
    divisor = math.gcd(part, _SIXTEENTHS)
    fraction = f"{part // divisor}/{_SIXTEENTHS // divisor}"
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"


def length(length_m: float) -> str:
    """Write a length to cut: '702 mm (27 5/8 in)'."""
    return f"{number(length_m * 1000.0)} mm ({inch_fraction(length_m)})"


def change_mm(length_m: float) -> str:
    """Write a difference in length with its sign: '+35 mm'."""
    millimetres = round(length_m * 1000.0)
    return f"{'+' if millimetres > 0 else ''}{number(millimetres)} mm"


def bore(diameter_m: float) -> str:
    """Write a diameter to order or drill: '53.9 mm (2.12 in)'."""
    return f"{number(diameter_m * 1000.0, 1)} mm ({diameter_m * 1000.0 / _MM_PER_INCH:.2f} in)"


def temperature(temperature_k: float) -> str:
    """Temperature in both scales: '140 °C (284 °F)'."""
    celsius = temperature_k - 273.15
    return f"{number(celsius)} °C ({number(celsius * 9.0 / 5.0 + 32.0)} °F)"


def duration(seconds: float) -> str:
    """Length of a drive: '48 s' or '12 min 5 s'."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def bare_order(order: float) -> str:
    """Order as a number: '3', '1.5'."""
    return f"{order:g}"


def order_name(order: float, engine: Engine | None) -> str:
    """Order with its plain name: 'order 3 (firing)'."""
    if engine is not None and (name := _HARMONICS.get(order / engine.firing_order)):
        return f"order {bare_order(order)} ({name})"
    return f"order {bare_order(order)}"


def order_note(order: float) -> str:
    """Order as an adjective: 'third-order', 'order-1.5'."""
    word = _ORDINALS.get(int(order)) if order == int(order) else None
    return f"{word}-order" if word else f"order-{bare_order(order)}"


def tie(text: str) -> str:
    """Keep a number and its unit on one line."""
    return _NUMBER_AND_UNIT.sub("\\1\u00a0", text)


def sentence(text: str) -> str:
    """Make a whole sentence of it, with true minus signs."""
    return true_minus(quantities.sentence(text))


def true_minus(text: str) -> str:
    """Write the minus of every negative number as such, not as a hyphen."""
    return _NEGATIVE.sub("−\\1", text)
