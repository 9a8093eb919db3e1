"""What a column means, from its name; in the words people's loggers use.

The names are common practice, no source.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import unicodedata
from dataclasses import dataclass

from logger.folder.quantities import COLUMNS, LEVEL_COLUMNS
from logger.importing.units import unit_quantity

TIME = "time_s"
RPM = "rpm"
SPEED = "road_speed_m_s"
LEVEL = "level"

_NOT_AS_DRIVEN = (
    r"\b(target|desired|limit|limiter|idle|max|min|maximum|minimum|soll|error|delta|rate|avg"
    r"|average|mean|change|gradient|count|id)\b"
)
# kind of column: (words that name it, words that tell that it is something else)
_WORDS: dict[str, tuple[str, str]] = {
    TIME: (
        r"\b(time|times|timestamp|time ?stamp|datetime|elapsed|clock|seconds|secs?|millis|zeit"
        r"|zeitstempel|uhrzeit|messzeit|temps|tiempo|tempo|tijd|tid|ora|heure|hora|czas)\b"
        r"|^(t|s|ms)$",
        r"\b(lap|injection|dwell|trip|run|engine|charge|shift|reaction|response|timing"
        r"|throttle|load|fuel|level|zone|weighting|constant|0 60|0 100)\b",
    ),
    RPM: (
        r"\b(rpm|krpm|revs|engine ?speed|eng ?speed|crank(shaft)? speed|rotation(al)? speed"
        r"|drehzahl|motor ?drehzahl|kurbelwellendrehzahl|regime( moteur)?|giri( motore)?|regimen"
        r"|revoluciones|toerental|varvtal|obroty|n ?mot|rev(olution)?s per minute)\b",
        r"\b(wheel|turbo|turbine|fan|gear ?box|transmission|input|output|shaft|pump|compressor"
        r"|cut|redline|rpm (s|sec|per))\b|" + _NOT_AS_DRIVEN,
    ),
    SPEED: (
        r"\b(speed|vss|velocity|mph|kph|km h|kmh|geschwindigkeit|fahrzeug ?geschwindigkeit"
        r"|fahrgeschwindigkeit|vitesse|velocidad|velocita|snelheid|hastighet)\b",
        r"\b(engine|eng|motor|crank(shaft)?|wheel|fan|turbo|wind|shaft|rotation(al)?|pump|spin"
        r"|cruise|sound|air|turbine|up|vertical|accuracy)\b|" + _NOT_AS_DRIVEN,
    ),
    LEVEL: (
        r"\b(l ?p? ?([acz](eqt?|f|s|i)?|eq)|lp|spl|sound( pressure)?( level)?|level|noise|loudness"
        r"|db ?[acz]?|pegel|schall(druck)?pegel|niveau( sonore)?|livello( sonoro)?"
        r"|nivel( sonoro)?|geluidsniveau)\b",
        r"\b(fuel|tank|oil|coolant|battery|signal|gps|water|floor|rssi|gain|trigger|hz|khz"
        r"|l ?[acz]?(f|s|i)?(max|min|peak)|l?[acz]?peak|ln|l[acz]?f? \d\d?)\b|" + _NOT_AS_DRIVEN,
    ),
    "load_percent": (
        r"\b(engine ?load|calculated( engine)? load( value)?|load|motorlast|charge moteur"
        r"|carga( del motor)?|carico( motore)?)\b|^last$",
        r"\b(absolute|abs|alternator|battery|wheel|axle|time)\b|" + _NOT_AS_DRIVEN,
    ),
    "throttle_percent": (
        r"\b(throttle|throttle ?pos(ition)?|tps|drosselklappe(nstellung)?|papillon|farfalla"
        r"|mariposa)\b",
        r"\b(pedal|accelerator|relative|commanded|voltage|actuator|time)\b|" + _NOT_AS_DRIVEN,
    ),
    "manifold_pressure_kpa": (
        r"\b(manifold( absolute)? pressure|intake (manifold )?(absolute )?pressure|map"
        r"|saugrohrdruck|inlet pressure)\b",
        r"\b(boost|gauge|relative|baro(metric)?|fuel|oil)\b|" + _NOT_AS_DRIVEN,
    ),
    "coolant_temperature_degc": (
        r"\b((engine )?coolant( temp(erature)?)?|ect|clt|water temp(erature)?"
        r"|kuhl(mittel|wasser)temperatur|wassertemperatur)\b",
        r"\b(level|pressure|flow|radiator)\b|" + _NOT_AS_DRIVEN,
    ),
    "catalyst_temperature_degc": (
        r"\b(cat(alyst|alytic converter)? temp(erature)?|katalysatortemperatur"
        r"|kat ?temp(eratur)?)\b",
        _NOT_AS_DRIVEN,
    ),
}
_PATTERNS = {kind: (re.compile(yes), re.compile(no)) for kind, (yes, no) in _WORDS.items()}
_KNOWN_BY_UNIT = (RPM, SPEED, LEVEL)
KINDS = tuple(_WORDS)

_QUANTITIES = {
    TIME: "time",
    RPM: "rpm",
    SPEED: "speed",
    LEVEL: "level",
    "manifold_pressure_kpa": "pressure",
}
_OWN_UNITS = {"rpm": "rpm", "road_speed_m_s": "m/s", "time_s": "s"}
_OWN_UNIT_ENDINGS = (("_percent", "%"), ("_kpa", "kPa"), ("_degc", "degC"), ("_db", "dB"))

_IN_BRACKETS = re.compile(r"(.*?)\s*[(\[{<]\s*([^()\[\]{}<>]*(?:\([^()]*\))?)\s*[)\]}>]\s*")
_BEHIND_NAME = re.compile(
    r"(.*?[^\W\d_])[\s_,/:-]+(?:in\s+)?"
    r"(db ?\([acz]\)|km[ _]h|m[ _]s|(?:1/|[a-z]+/)?[a-z°%µ²^⁻-]+[1¹]?)",
    re.IGNORECASE,
)
_ONLY_IN_BRACKETS = frozenset("cfkhd")  # too short to be a unit at the end of a name

_WEIGHTED = re.compile(
    r"\b(?:l ?p? ?([acz])(?:eqt?|f|s|i)?|db ?([acz])|([acz]) (?:weight|bewert)\w*"
    r"|level ([acz]))\b"
)
_UNWEIGHTED = re.compile(r"\b(unweighted|linear|lin|flat|unbewertet)\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnName:
    """A column's header in parts.

    Attributes
    ----------
    text : str
        As in the file, without needless spaces.
    words : str
        Plain lower-case words; accents, and the unit where one was found, removed.
    unit : str
        A known unit, as spelled in the header or the units row; empty when there is none.
    """

    text: str
    words: str
    unit: str


def read_column_name(header: str, unit_row: str = "") -> ColumnName:
    """Part a header such as ``Engine speed (rpm)``, ``speed_kmh`` or ``Drehzahl [1/min]``."""
    text = " ".join(header.split())
    if text in COLUMNS:
        return ColumnName(text=text, words=_plain_words(text), unit=_own_unit(text))
    name, unit = _split_unit(text)
    if unit_quantity(unit_row) and not unit:
        unit = unit_row.strip()
    return ColumnName(text=text, words=_plain_words(name), unit=unit)


def kinds_of(column: ColumnName) -> tuple[str, ...]:
    """Say what a column may be: some of :data:`KINDS`, none when it is of no use."""
    if column.text in COLUMNS:
        return (LEVEL,) if column.text in LEVEL_COLUMNS else (column.text,)
    quantity = unit_quantity(column.unit)
    found = []
    for kind, (named, something_else) in _PATTERNS.items():
        if something_else.search(column.words):
            continue
        if quantity and quantity != quantity_of(kind):
            continue
        is_known_by_unit = kind in _KNOWN_BY_UNIT or (kind == TIME and not column.words)
        if named.search(column.words) or (quantity and is_known_by_unit):
            found.append(kind)
    return tuple(found)


def quantity_of(kind: str) -> str:
    """Name the table of :data:`logger.importing.units.UNITS` for a kind of column."""
    if kind.endswith("_percent"):
        return "percent"
    return "temperature" if kind.endswith("_degc") else _QUANTITIES[kind]


def weighting_of(column: ColumnName) -> str | None:
    """Give ``a``, ``c`` or ``z`` when the column's name says how its level is weighted."""
    words = f"{_plain_words(column.text)} | {_plain_words(column.unit)}"
    letters = {letter for found in _WEIGHTED.findall(words) for letter in found if letter}
    if _UNWEIGHTED.search(words):
        letters.add("z")
    return letters.pop() if len(letters) == 1 else None


def _split_unit(text: str) -> tuple[str, str]:
    if unit_quantity(text):
        return "", text
    behind = _BEHIND_NAME.fullmatch(text)  # before the brackets, for those of dB(C)
    if behind and unit_quantity(behind[2]) and behind[2].lower() not in _ONLY_IN_BRACKETS:
        return behind[1], behind[2]
    in_brackets = _IN_BRACKETS.fullmatch(text)
    if in_brackets and unit_quantity(in_brackets[2]):
        return in_brackets[1], in_brackets[2]
    return text, ""


def _own_unit(name: str) -> str:
    for ending, unit in _OWN_UNIT_ENDINGS:
        if name.endswith(ending):
            return unit
    return _OWN_UNITS[name]


def _plain_words(text: str) -> str:
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", re.sub(r"(?i)db", "db", text))  # engineSpeed
    plain = unicodedata.normalize("NFKD", spaced).encode("ascii", "ignore").decode("ascii")
    return " ".join(re.findall(r"[a-z]+|[0-9]+", plain.lower()))
