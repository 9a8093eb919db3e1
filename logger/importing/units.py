"""Units as loggers write them, and their way to those of a session.

Factors: SI Brochure (9th edition, 2019) and NIST SP 811 (2008), appendix B, from memory; the
spellings are common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit: its usual name, and value in session units = ``factor`` * value + ``offset``."""

    name: str
    factor: float
    offset: float = 0.0


# Factors to SI: exact by definition, but for psi, inHg and mmHg, which are rounded.
_SPELLINGS: dict[str, tuple[tuple[Unit, str], ...]] = {
    "time": (
        (Unit(name="s", factor=1.0), "s sec secs second seconds sek sekunden secondes segundos"),
        (Unit(name="ms", factor=1e-3), "ms msec msecs millis millisecond milliseconds"),
        (Unit(name="us", factor=1e-6), "us µs usec micros microseconds"),
        (Unit(name="ns", factor=1e-9), "ns nsec nanoseconds"),
        (Unit(name="min", factor=60.0), "min mins minute minutes minuten"),
        (Unit(name="h", factor=3600.0), "h hr hrs hour hours"),
        (Unit(name="day", factor=86400.0), "d day days"),
    ),
    "rpm": (
        (
            Unit(name="rpm", factor=1.0),
            "rpm r/min rev/min revs/min 1/min /min min-1 min^-1 u/min upm tr/min giri/min rpm/min "
            "t/min obr/min o/min revolutions/min revolutionsperminute",
        ),
        (Unit(name="rev/s", factor=60.0), "rps rev/s r/s revs/s 1/s s-1 s^-1 u/s"),
        (
            Unit(name="1000 rpm", factor=1000.0),
            "krpm x1000 x1000rpm rpmx1000 1000rpm rpm*1000 x1000r/min 1000/min",
        ),
        (Unit(name="rad/s", factor=30.0 / math.pi), "rad/s rad/sec"),
    ),
    "speed": (
        (Unit(name="m/s", factor=1.0), "m/s m/sec ms-1 ms^-1 meters/second"),
        (Unit(name="km/h", factor=1 / 3.6), "km/h kmh kph kmph kmh-1 km/hr km/std"),
        (Unit(name="mph", factor=0.44704), "mph mi/h mi/hr miles/h milesperhour"),
        (Unit(name="kn", factor=1852.0 / 3600.0), "kn kt kts knot knots"),
        (Unit(name="ft/s", factor=0.3048), "ft/s fps"),
    ),
    "level": (
        (Unit(name="dB", factor=1.0), "db dbspl dbl dbfs decibel decibels"),
        (Unit(name="dB(A)", factor=1.0), "dba db(a) dbspla"),
        (Unit(name="dB(C)", factor=1.0), "dbc db(c)"),
        (Unit(name="dB(Z)", factor=1.0), "dbz db(z) db(lin) dblin"),
    ),
    "percent": (
        (Unit(name="%", factor=1.0), "% percent pct prozent"),
        (Unit(name="0..1", factor=100.0), "0..1 0-1 fraction ratio"),
    ),
    "pressure": (
        (Unit(name="kPa", factor=1.0), "kpa kpaabs kpa(abs) kpaa"),
        (Unit(name="Pa", factor=1e-3), "pa"),
        (Unit(name="hPa", factor=0.1), "hpa mbar mb mbarabs"),
        (Unit(name="bar", factor=100.0), "bar bara barabs"),
        (Unit(name="psi", factor=6.894757), "psi psia psiabs"),
        (Unit(name="inHg", factor=3.386389), "inhg"),
        (Unit(name="mmHg", factor=0.1333224), "mmhg torr"),
    ),
    "temperature": (
        (Unit(name="degC", factor=1.0), "°c c degc deg-c celsius degreesc gradc ℃"),
        (Unit(name="degF", factor=5 / 9, offset=-160 / 9), "°f f degf deg-f fahrenheit degreesf"),
        (Unit(name="K", factor=1.0, offset=-273.15), "k kelvin degk"),
    ),
}
UNITS: Mapping[str, Mapping[str, Unit]] = {
    quantity: {spelling: unit for unit, words in rows for spelling in words.split()}
    for quantity, rows in _SPELLINGS.items()
}


def unit_quantity(text: str) -> str:
    """Quantity a unit belongs to (a key of :data:`UNITS`), or empty when it is no known unit."""
    plain = _plain(text)
    for quantity, units in UNITS.items():
        if plain in units:
            return quantity
    return ""


def bare_unit(text: str) -> str:
    """Give a unit without the brackets around it; those of ``dB(A)`` belong to it."""
    text = text.strip()
    return text if unit_quantity(text) else text.strip("[](){}<> ")


def find_unit(quantity: str, text: str) -> Unit | None:
    """Give the unit of that quantity with this spelling."""
    return UNITS[quantity].get(_plain(text))


def unit_names(quantity: str) -> str:
    """Usual names of a quantity's units, for a message."""
    return ", ".join(unit.name for unit, _ in _SPELLINGS[quantity])


def _plain(text: str) -> str:
    # U+2212 is what NFKC makes of a raised minus; U+03BC and U+00B5 are both micro
    composed = unicodedata.normalize("NFKC", text.replace("⁻", "-")).replace("−", "-")
    plain = composed.replace("μ", "µ").replace("º", "°").replace("×", "x").lower()
    for sign in " _.·'\"":
        plain = plain.replace(sign, "")
    return plain.replace("µ", "µ")
