"""Road speed out of one sentence of NMEA 0183, believed only with its checksum and a valid fix.

RMC and VTG carry the speed, GGA tells the quality of a fix to receivers older than version 2.3,
whose VTG does not. The letters of status and mode are those of NMEA 0183 (IEC 61162-1).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
import re
from dataclasses import dataclass
from datetime import date, time

from pynmeagps import NMEAMessage, NMEAMessageError, NMEAParseError, NMEAReader, NMEATypeError

KNOT_M_S = 1852.0 / 3600.0  # the international knot, exact
_MEASURED = frozenset("ADFPR")  # autonomous, differential, float, precise, kinematic
_NO_FIX_QUALITIES = (0, 6, 7, 8)  # NMEA 0183: none, dead reckoning, typed in, simulated
# Stricter than the parser, which takes one sentence inside another.
_SENTENCE = re.compile(rb"\$([A-Z][A-Z0-9]{3,9}),[\x20-\x23\x25-\x29\x2b-\x7e]*\*[0-9A-Fa-f]{2}")
_WANTED = ("RMC", "VTG", "GGA")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentence:
    """What a whole sentence tells.

    Attributes
    ----------
    kind : str
        ``"RMC"``, ``"VTG"`` and so on, without the two letters of who talks.
    has_fix : bool or None
        Whether it says that the receiver knows where it is; None when it does not say.
    speed_m_s : float or None
        Over ground, as it stands there: without a fix it is worth nothing.
    day, clock : date and time or None
        In UTC, where it says so.
    """

    kind: str
    has_fix: bool | None
    speed_m_s: float | None
    day: date | None = None
    clock: time | None = None


def parse_sentence(text: bytes) -> Sentence | None:
    """Give what one line without its end tells; None when it is no whole sentence."""
    shape = _SENTENCE.fullmatch(text)
    if shape is None:
        return None
    address = shape[1].decode("ascii")
    kind = address if address.startswith("P") else address[2:]  # P: a maker's own sentence
    try:
        message = NMEAReader.parse(text)
    except NMEAParseError:  # the checksum
        return None
    except (NMEAMessageError, NMEATypeError):  # whole, but not what the parser knows
        message = None
    if message is None or kind not in _WANTED:
        return Sentence(kind=kind, has_fix=None, speed_m_s=None)
    if kind == "GGA":
        quality = _number(message, "quality")
        has_fix = quality is not None and quality not in _NO_FIX_QUALITIES
        return Sentence(kind=kind, has_fix=has_fix, speed_m_s=None, clock=_clock(message))
    knots = _number(message, "spd" if kind == "RMC" else "sogn")
    if knots is None and kind == "VTG":
        km_h = _number(message, "sogk")
        speed_m_s = None if km_h is None else km_h / 3.6
    else:
        speed_m_s = None if knots is None else knots * KNOT_M_S
    day = getattr(message, "date", None)
    return Sentence(
        kind=kind,
        has_fix=_has_fix(message, kind),
        speed_m_s=speed_m_s,
        day=day if isinstance(day, date) else None,
        clock=_clock(message),
    )


def _has_fix(message: NMEAMessage, kind: str) -> bool | None:
    mode = getattr(message, "posMode", "")  # since version 2.3
    if kind == "RMC":
        return getattr(message, "status", "") == "A" and (not mode or mode in _MEASURED)
    return mode in _MEASURED if mode else None


def _clock(message: NMEAMessage) -> time | None:
    clock = getattr(message, "time", None)
    return clock if isinstance(clock, time) else None


def _number(message: NMEAMessage, name: str) -> float | None:
    value = getattr(message, name, "")  # the parser leaves an empty field as ""
    if not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)
