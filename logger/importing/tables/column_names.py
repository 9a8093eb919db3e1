"""What a column means, from its name; in the words people's loggers use (``columns.toml``)."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from logger.folder.quantities import COLUMNS, LEVEL_COLUMNS
from logger.importing.tables.units import unit_quantity
from logger.software import own_table

TIME = "time_s"
RPM = "rpm"
SPEED = "road_speed_m_s"
LEVEL = "level"

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
class Kind:
    """One kind of column, a row of ``columns.toml``, where its fields are explained.

    Attributes
    ----------
    quantity : str
        A key of :data:`logger.importing.tables.units.UNITS`.
    named, something_else : Pattern
        Words that name it, and words that tell that it is something else.
    """

    option: str
    what: str
    quantity: str
    own_unit: str
    known_by_unit: bool
    marks: tuple[float, ...]
    named: re.Pattern[str]
    something_else: re.Pattern[str]


def _any_of(words: Sequence[str], whole: Sequence[str] = ()) -> re.Pattern[str]:
    pattern = rf"\b({'|'.join(words)})\b"
    return re.compile(f"{pattern}|^({'|'.join(whole)})$" if whole else pattern)


def _read_kinds() -> dict[str, Kind]:
    rows = own_table("logger.importing.tables", "columns")
    not_as_driven = rows.pop("not_as_driven")["not"]
    return {
        name: Kind(
            option=row["option"],
            what=row["what"],
            quantity=row["quantity"],
            own_unit=row["own_unit"],
            known_by_unit=row.get("known_by_unit", False),
            marks=tuple(row.get("marks", ())),
            named=_any_of(row["words"], row.get("whole", ())),
            something_else=_any_of(
                row["not"] + (not_as_driven if row.get("as_driven", True) else [])
            ),
        )
        for name, row in rows.items()
    }


KINDS: Mapping[str, Kind] = _read_kinds()


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
        unit = KINDS[kind_of_own(text)].own_unit
        return ColumnName(text=text, words=_plain_words(text), unit=unit)
    name, unit = _split_unit(text)
    if unit_quantity(unit_row) and not unit:
        unit = unit_row.strip()
    return ColumnName(text=text, words=_plain_words(name), unit=unit)


def kinds_of(column: ColumnName) -> tuple[str, ...]:
    """Say what a column may be: some of :data:`KINDS`, none when it is of no use."""
    if column.text in COLUMNS:
        return (kind_of_own(column.text),)
    quantity = unit_quantity(column.unit)
    found = []
    for name, kind in KINDS.items():
        if kind.something_else.search(column.words):
            continue
        if quantity and quantity != kind.quantity:
            continue
        is_known_by_unit = kind.known_by_unit or (name == TIME and not column.words)
        if kind.named.search(column.words) or (quantity and is_known_by_unit):
            found.append(name)
    return tuple(found)


def kind_of_own(column: str) -> str:
    """Name the kind of one of a session's own columns."""
    return LEVEL if column in LEVEL_COLUMNS else column


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


def _plain_words(text: str) -> str:
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", re.sub(r"(?i)db", "db", text))  # engineSpeed
    plain = unicodedata.normalize("NFKD", spaced).encode("ascii", "ignore").decode("ascii")
    return " ".join(re.findall(r"[a-z]+|[0-9]+", plain.lower()))
