"""Write lengths and temperatures as a workshop reads them, and sentences as a person does."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

from analysis.drive import Engine
from analysis.findings import COASTING, STANDING

_INCH_M = 0.0254


def millimetres(length_m: float) -> str:
    """E.g. '702.4 mm'."""
    return f"{1e3 * length_m:.1f} mm"


def decimal_inches(length_m: float) -> str:
    """E.g. '27.65 in'."""
    return f"{length_m / _INCH_M:.2f} in"


def sixteenths(length_m: float) -> str:
    """Nearest sixteenth of an inch as a tape shows it, e.g. '27 5/8 in'."""
    total = round(16.0 * length_m / _INCH_M)
    sign, (whole, rest) = ("-" if total < 0 else ""), divmod(abs(total), 16)
    if rest == 0:
        return f"{sign}{whole} in"
    shared = gcd(rest, 16)
    fraction = f"{rest // shared}/{16 // shared} in"
    return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"


def length_both(length_m: float) -> str:
    """E.g. '702.4 mm (27.65 in, about 27 5/8 in)'."""
    return f"{millimetres(length_m)} ({decimal_inches(length_m)}, about {sixteenths(length_m)})"


def rough_length(length_m: float) -> str:
    """To the centimetre and the inch, for a place rather than a cut, e.g. '1.05 m (41 in)'."""
    return f"{length_m:.2f} m ({length_m / _INCH_M:.0f} in)"


def temperature_both(temperature_k: float) -> str:
    """E.g. '140 °C (284 °F)'."""
    celsius = temperature_k - 273.15
    return f"{celsius:.0f} °C ({1.8 * celsius + 32.0:.0f} °F)"


def road_speed_both(speed_m_s: float) -> str:
    """E.g. '74 km/h, 46 mph'."""
    return f"{3.6 * speed_m_s:.0f} km/h, {speed_m_s / 0.44704:.0f} mph"


def engine_name(engine: Engine) -> str:
    """Cylinders and working cycle: '6 cylinders, 4-stroke'."""
    s = "" if engine.cylinders == 1 else "s"
    return f"{engine.cylinders} cylinder{s}, {engine.stroke_cycle}-stroke"


def gear_name(gear: int) -> str:
    """Letters, because the lowest gear that a drive shows need not be the car's first."""
    if gear == STANDING:
        return "the car standing"
    return "coasting" if gear == COASTING else f"gear {chr(ord('A') + gear)}"


def listed(items: Sequence[str]) -> str:
    """Join with commas and 'and'."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def sentence(text: str) -> str:
    """Capital at the start, unless that is a name such as obd:auto; full stop at the end."""
    text = text.strip()
    if not text:
        return text
    if not set(":/_") & set(text.split()[0].rstrip(":")):
        text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else f"{text}."
