"""Units as loggers write them, and their way to those of a session; read from ``units.toml``."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from logger.errors import TelemetryError
from logger.software import own_table


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit: its usual name, and value in session units = ``factor`` * value + ``offset``."""

    name: str
    factor: float
    offset: float = 0.0

    def is_same(self, other: "Unit") -> bool:
        """Whether a value means the same in both, whatever they are called."""
        return (self.factor, self.offset) == (other.factor, other.offset)


UNITS: Mapping[str, Mapping[str, Unit]] = {
    quantity: {
        spelling: Unit(name=name, factor=row["factor"], offset=row.get("offset", 0.0))
        for name, row in rows.items()
        for spelling in row["spellings"].split()
    }
    for quantity, rows in own_table("logger.importing.tables", "units").items()
}


OTHER = "other"  # the quantity of units that no column in use has

# "0.1 s", "1/10 s", "x10 rpm"
_SCALED = re.compile(
    r"[x×*]?\s*(1\s*/\s*[1-9]\d{0,5}|\d{1,6}(?:[.,]\d{1,6})?)\s*[x×*]?\s*(\S.{0,30})"
)


@lru_cache(maxsize=4096)
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
    """Give the unit of that quantity with this spelling, or a multiple of one: ``0.1 s``."""
    plain = UNITS[quantity].get(_plain(text))
    scaled = _SCALED.fullmatch(text.strip()) if plain is None else None
    if scaled is None:
        return plain
    base = UNITS[quantity].get(_plain(scaled[2]))
    number = float(Fraction("".join(scaled[1].split()).replace(",", ".")))
    if base is None or base.offset or number == 0.0:
        return None
    return Unit(name=text.strip(), factor=number * base.factor)


def asked_unit(quantity: str, option: str, text: str) -> Unit:
    """Give the unit that a person named with an option."""
    unit = find_unit(quantity, text)
    if unit is None:
        names = ", ".join(dict.fromkeys(unit.name for unit in UNITS[quantity].values()))
        raise TelemetryError(f"{option} {text} is not known; use one of {names}")
    return unit


def _plain(text: str) -> str:
    # U+2212 is what NFKC makes of a raised minus; U+03BC and U+00B5 are both micro
    composed = unicodedata.normalize("NFKC", text.replace("⁻", "-")).replace("−", "-")
    plain = composed.replace("μ", "µ").replace("º", "°").replace("×", "x").lower()
    for sign in " _.·'\"":
        plain = plain.replace(sign, "")
    return plain.replace("µ", "µ")
