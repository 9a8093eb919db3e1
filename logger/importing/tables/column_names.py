"""What a column means, from its name; in the words people's loggers use (``columns.toml``)."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from logger.folder.quantities import COLUMNS, LEVEL_COLUMNS
from logger.importing.tables.units import OTHER, find_unit, unit_quantity
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
_WIDE_BRACKETS = str.maketrans("（）［］【】／", "()[][]/")
_DIVIDED = re.compile(r".*\S\s*([/x×*]\s*\d+)")  # "RPM / 1000"
_SORT_OF_SIGN = {"L": "L", "M": "L", "N": "N"}  # marks belong to the letter before them
_ONLY_IN_BRACKETS = frozenset("cfkhdсчث分秒")  # too short to be a unit at the end of a name

_DIACRITICS = re.compile("[\u0300-\u036f]")  # Latin, Greek and Cyrillic; other scripts need theirs
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
    vague : Pattern
        Names that say nothing, so that the unit must.
    fillers : frozenset of str
        Words that may stand beside those that name it; empty where any may. Behind another word
        something else may hide, such as a turbine.
    """

    option: str
    what: str
    quantity: str
    own_unit: str
    marks: tuple[float, ...]
    named: re.Pattern[str]
    something_else: re.Pattern[str]
    vague: re.Pattern[str] | None
    fillers: frozenset[str]


def _bare(text: str) -> str:
    """Take the accents off letters."""
    return unicodedata.normalize("NFC", _DIACRITICS.sub("", unicodedata.normalize("NFKD", text)))


def _any_of(words: Sequence[str], whole: Sequence[str] = ()) -> re.Pattern[str]:
    # no \b: the vowel signs of some scripts are no letters to it
    pattern = rf"(?<!\S)({'|'.join(words)})(?!\S)"
    return re.compile(_bare(f"{pattern}|^({'|'.join(whole)})$" if whole else pattern))


_TABLE = own_table("logger.importing.tables", "columns")
# what stands in brackets behind a name without being a unit
_NO_UNIT = re.compile(f"({'|'.join(_TABLE.pop('no_unit')['words'])})?")


def _read_kinds() -> dict[str, Kind]:
    rows = dict(_TABLE)
    not_as_driven = rows.pop("not_as_driven")["not"]
    return {
        name: Kind(
            option=row["option"],
            what=row["what"],
            quantity=row["quantity"],
            own_unit=row["own_unit"],
            marks=tuple(row.get("marks", ())),
            named=_any_of(row["words"], row.get("whole", ())),
            something_else=_any_of(
                row["not"] + (not_as_driven if row.get("as_driven", True) else [])
            ),
            vague=re.compile(_bare("|".join(row["vague"]))) if "vague" in row else None,
            fillers=frozenset(map(_bare, row.get("fillers", ()))),
        )
        for name, row in rows.items()
    }


KINDS: Mapping[str, Kind] = _read_kinds()
# What a person may say of a log beside its columns, by option: what its value is, what it may be.
HINTS = (
    ("time-unit", "UNIT", "s, ms, us, ns, min, h or day, or such as '0.1 s'"),
    ("rpm-unit", "UNIT", "rpm, rev/s, '1000 rpm', or such as '0.25 rpm'"),
    ("speed-unit", "UNIT", "km/h, mph, m/s or kn"),
    ("level-weighting", "LETTER", "A, C or Z"),
    ("date-order", "ORDER", "dmy or mdy, for dates such as 06/08/2025"),
    ("worksheet", "SHEET", "sheet of a spreadsheet"),
    ("delimiter", "SIGN", "comma, semicolon, tab, pipe or space"),
    ("decimal", "SIGN", "point or comma"),
    ("encoding", "ENCODING", "such as utf-8 or cp1252"),
)


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
    strange : str
        What stands where a unit should and is none that can be used.
    above, below : str
        Plain words of the other rows of the header: groups, sources, descriptions.
    """

    text: str
    words: str
    unit: str
    strange: str = ""
    above: str = ""
    below: str = ""


def read_column_name(
    header: str, unit_row: str = "", above: str = "", below: str = ""
) -> ColumnName:
    """Part a header such as ``Engine speed (rpm)``, ``speed_kmh`` or ``Drehzahl [1/min]``."""
    text = " ".join(header.split())
    if text in COLUMNS:
        unit = KINDS[kind_of_own(text)].own_unit
        return ColumnName(text=text, words=plain_words(text), unit=unit)
    name, unit, strange = _split_unit(text.translate(_WIDE_BRACKETS))
    unit_row = unit_row.strip(" -–")
    if unit_row and not unit:
        unit, strange = (unit_row, strange) if _is_unit(unit_row) else ("", unit_row)
    return ColumnName(
        text=text,
        words=plain_words(name),
        unit=unit,
        strange=strange,
        above=plain_words(above),
        below=plain_words(below),
    )


def kinds_of(column: ColumnName) -> tuple[str, ...]:
    """Say what a column may be: some of :data:`KINDS`, none when it is of no use."""
    if column.text in COLUMNS:
        return (kind_of_own(column.text),)
    quantity = _quantity(column.unit)
    core = f"{column.above} {column.words}".strip()
    words = f"{core} {column.below}".strip()
    found = []
    for kind_name, kind in KINDS.items():
        if kind.something_else.search(words):
            continue
        # a main column in an odd unit is asked about; no other is looked for in its place
        if quantity not in ("", kind.quantity, OTHER if kind_name in (TIME, RPM) else ""):
            continue
        # a column with a unit and no name is judged by what else is said of it, not found by it
        name_words = words if column.words else ""
        is_vague = kind.vague is not None and kind.vague.fullmatch(name_words) is not None
        if (
            _is_named(kind, core, column.strange)
            or _is_named(kind, words, column.strange)
            or (quantity == kind.quantity and is_vague)
        ):
            found.append(kind_name)
    return tuple(found)


def _is_named(kind: Kind, words: str, strange: str) -> bool:
    if not kind.named.search(words):
        return False
    known = {*kind.fillers, *plain_words(strange).split()}  # what is strange is asked about later
    left = kind.named.sub(" ", words).split()
    return not kind.fillers or all(word in known or word.isdigit() for word in left)


def open_unit(column: ColumnName, kind: str) -> str:
    """Give what a column's name says in place of a usable unit of its kind; mostly empty."""
    if column.unit:
        return "" if find_unit(KINDS[kind].quantity, column.unit) else column.unit
    words = plain_words(column.strange)
    is_remark = _NO_UNIT.fullmatch(words) or KINDS[kind].named.search(words)
    return "" if is_remark else column.strange.strip()


def kind_of_own(column: str) -> str:
    """Name the kind of one of a session's own columns."""
    return LEVEL if column in LEVEL_COLUMNS else column


def weighting_of(column: ColumnName) -> str | None:
    """Give ``a``, ``c`` or ``z`` when the column's name says how its level is weighted."""
    words = f"{plain_words(column.text)} | {plain_words(column.unit)}"
    letters = {letter for found in _WEIGHTED.findall(words) for letter in found if letter}
    if _UNWEIGHTED.search(words):
        letters.add("z")
    return letters.pop() if len(letters) == 1 else None


def _quantity(unit: str) -> str:
    """Quantity of a unit or of a multiple of one."""
    multiples = (quantity for quantity in ("time", "rpm") if find_unit(quantity, unit))
    return unit_quantity(unit) or next(multiples, "")


def _is_unit(text: str) -> bool:
    return bool(text and _quantity(text))


def _split_unit(text: str) -> tuple[str, str, str]:
    """Part a header into its name, its unit, and what stands in place of a unit."""
    if unit_quantity(text):
        return "", text, ""
    behind = _BEHIND_NAME.fullmatch(text)  # before the brackets, for those of dB(C)
    if behind and unit_quantity(behind[2]) and behind[2].lower() not in _ONLY_IN_BRACKETS:
        return behind[1], behind[2], ""
    in_brackets = _IN_BRACKETS.fullmatch(text)
    if in_brackets and _is_unit(in_brackets[2]):
        return in_brackets[1], in_brackets[2], ""
    if in_brackets and in_brackets[2].strip(" -"):
        return text, "", in_brackets[2]
    name, comma, behind_comma = text.rpartition(",")
    if comma and unit_quantity(behind_comma.strip()):
        return name, behind_comma.strip(), ""
    divided = _DIVIDED.fullmatch(text)
    return text, "", divided[1] if divided else ""


@lru_cache(maxsize=4096)
def plain_words(text: str) -> str:
    """Give lower-case words and numbers, without accents, one blank apart."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", re.sub(r"(?i)db", "db", text))  # engineSpeed
    plain = _bare(spaced).lower()
    kinds = "".join(_SORT_OF_SIGN.get(unicodedata.category(sign)[0], " ") for sign in plain)
    return " ".join(plain[at.start() : at.end()] for at in re.finditer("L+|N+", kinds))
