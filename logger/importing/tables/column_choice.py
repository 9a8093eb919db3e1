"""Choose the columns of a table, by what a person said and by their names; else ask."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from logger.errors import TelemetryError
from logger.importing.request import TelemetryOptions
from logger.importing.tables.column_names import (
    KINDS,
    LEVEL,
    RPM,
    SPEED,
    TIME,
    ColumnName,
    kinds_of,
    open_unit,
    weighting_of,
)
from logger.importing.tables.units import Unit, asked_unit, find_unit

# of a column's cells; judgement: a log with more holes than this tells no sweep
_LEAST_READABLE = 0.1
ALWAYS_ASKED = (TIME, RPM, SPEED)
NONE = "none"  # what a person gives for the rpm column where the log has none
_TIME_HAS_ITS_OWN_RULES = _NAMED_BY_NOBODY = Unit(name="", factor=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One column in use: its place, the session's name for it, and its unit.

    ``open_unit`` is what the file says in place of a unit that can be used, and nobody explained.
    """

    index: int
    meaning: str
    name: ColumnName
    unit: Unit
    open_unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnChoice:
    """The columns in use, and for others that could be of use why they are not."""

    chosen: tuple[Choice, ...]
    unused: dict[int, str]


def choose_columns(
    path: Path,
    names: Sequence[ColumnName],
    options: TelemetryOptions,
    readable_share: Sequence[float],
) -> ColumnChoice:
    """Choose a column for each quantity the file has.

    Parameters
    ----------
    names : sequence of ColumnName
    readable_share : sequence of float
        For each column the share of sampled cells that are numbers or clock times.

    Raises
    ------
    TelemetryError
        Two columns could be the same, a unit is not named, or time or rpm is missing; the message
        names the option that decides and the columns it may take.
    """
    table = _Columns(path=path, names=names, kinds=[*map(kinds_of, names)], options=options)
    table.refuse_without_header()
    wanted = [kind for kind in KINDS if kind != RPM or not table.leaves_rpm_out()]
    asked = {
        kind: table.find_asked(text, KINDS[kind].option)
        for kind in wanted
        if (text := options.told(KINDS[kind].option, "column")) is not None
    }
    chosen: list[Choice] = []
    unused: dict[int, str] = {}
    for kind in wanted:
        named = [index for index, kinds in enumerate(table.kinds) if kind in kinds]
        readable = [index for index in named if readable_share[index] >= _LEAST_READABLE]
        # what was named for one quantity is not taken for another as well
        candidates = [index for index in readable if index not in asked.values()]
        candidates = [asked[kind]] if kind in asked else candidates
        if kind == LEVEL:
            chosen += table.choose_levels(candidates)
        elif len(candidates) == 1:
            choice = table.choice(kind, kind, candidates[0])
            chosen += choice
            unused |= {} if choice else {candidates[0]: "its name has no unit"}
        elif candidates:
            table.ask_which(kind, candidates)
            told = f"one of several; give --{KINDS[kind].option}-column to use it"
            unused |= dict.fromkeys(candidates, told)
        elif kind in (TIME, RPM):
            table.refuse_without(kind, [index for index in named if index not in readable])
    if not {RPM, SPEED} & {each.meaning for each in chosen}:
        raise TelemetryError(
            f"without rpm {path} must hold road speed, and no column looks like it; give "
            f"--speed-column, one of: {table.listed()}"
        )
    return ColumnChoice(chosen=tuple(chosen), unused=unused)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Columns:
    """A table's columns, what each may be, and what a person said of them."""

    path: Path
    names: Sequence[ColumnName]
    kinds: Sequence[tuple[str, ...]]
    options: TelemetryOptions

    def choice(self, kind: str, meaning: str, index: int) -> list[Choice]:
        """Choose a column; not if its unit is not known."""
        name = self.names[index]
        unit = _unit(kind, name, self.options)
        if unit is None:
            return []
        is_open = kind in ALWAYS_ASKED and self.options.told(KINDS[kind].option, "unit") is None
        left_open = open_unit(name, kind) if is_open else ""
        return [Choice(index=index, meaning=meaning, name=name, unit=unit, open_unit=left_open)]

    def leaves_rpm_out(self) -> bool:
        """``--rpm-column none``, unless a column goes by that name."""
        asked = (self.options.rpm_column or "").strip().casefold()
        return asked == NONE and all(name.text.casefold() != NONE for name in self.names)

    def ask_which(self, kind: str, candidates: Sequence[int]) -> None:
        """Ask which of several a main column is; of any other quantity none is taken."""
        option = KINDS[kind].option
        if kind in ALWAYS_ASKED:
            raise TelemetryError(
                f"{len(candidates)} columns could be {option}; give --{option}-column, "
                f"one of: {self.listed(candidates)}"
            )

    def refuse_without(self, kind: str, unreadable: Sequence[int]) -> NoReturn:
        """Refuse a table without time or rpm, or whose column of that name holds something else."""
        option, columns = KINDS[kind].option, self.listed()
        if unreadable:
            raise TelemetryError(
                f'the {option} column "{self.names[unreadable[0]].text}" of {self.path} holds '
                f"hardly any numbers; export it with numbers, or give --{option}-column, one of: "
                f"{columns}"
            )
        told = ""
        if kind == RPM and any(SPEED in kinds for kinds in self.kinds):
            told = f", or --rpm-column {NONE} if the log holds road speed alone"
        if kind == RPM and not all(name.text.isascii() for name in self.names):
            told += "; if these names look wrong, give --encoding"
        raise TelemetryError(
            f"no column of {self.path} looks like {option}; give --{option}-column, one of: "
            f"{columns}{told}"
        )

    def refuse_without_header(self) -> None:
        """Ask for the columns by number where none has a name."""
        is_told = self.options.time_column is not None and self.options.rpm_column is not None
        if not is_told and not any(name.text for name in self.names):
            raise TelemetryError(
                f"{self.path} has no header, so its columns have no names; tell which is which by "
                f"number, 1 to {len(self.names)}: --time-column 1 --rpm-column 2"
            )

    def find_asked(self, text: str, option: str) -> int:
        """Find the column that a person named, by its text, its words or its number."""
        wanted = " ".join(text.split()).casefold()
        found = [index for index, name in enumerate(self.names) if name.text.casefold() == wanted]
        if not found:
            found = [index for index, name in enumerate(self.names) if name.words == wanted]
        if len(found) > 1:
            numbers = " or ".join(str(index + 1) for index in found)
            raise TelemetryError(
                f'{self.path} has several columns "{text}"; give --{option}-column by number: '
                f"{numbers}"
            )
        if found:
            return found[0]
        if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:6]) <= len(self.names):
            return int(wanted[:6]) - 1
        raise TelemetryError(
            f'{self.path} has no column "{text}"; give --{option}-column, one of: {self.listed()}'
        )

    def choose_levels(self, candidates: Sequence[int]) -> list[Choice]:
        """Choose a column for each weighting."""
        asked = _asked_weighting(self.options)
        by_weighting: dict[str, list[int]] = {}
        for index in candidates:
            weighting = weighting_of(self.names[index]) or asked
            if weighting is None:
                raise TelemetryError(
                    f'the level column "{self.names[index].text}" does not say how it is weighted; '
                    "give --level-weighting A, C or Z (Z: unweighted), or --level-column"
                )
            by_weighting.setdefault(weighting, []).append(index)
        chosen: list[Choice] = []
        for weighting, indices in by_weighting.items():
            if len(indices) > 1:
                raise TelemetryError(
                    f"{len(indices)} columns could be the {weighting.upper()} level; "
                    f"give --level-column, one of: {self.listed(indices)}"
                )
            chosen += self.choice(LEVEL, f"level_{weighting}_db", indices[0])
        return chosen

    def listed(self, indices: Sequence[int] | None = None) -> str:
        """Name columns by number and text, all of them by default."""
        indices = range(len(self.names)) if indices is None else indices
        shown = [f'{index + 1} "{self.names[index].text}"' for index in indices[:20]]
        return ", ".join(shown) + (", ..." if len(indices) > 20 else "")


def _asked_weighting(options: TelemetryOptions) -> str | None:
    if options.level_weighting is None:
        return None
    letter = options.level_weighting.strip().lower()
    if letter not in ("a", "c", "z"):
        raise TelemetryError(
            f"--level-weighting {options.level_weighting} is not known; use A, C or Z"
        )
    return letter


def _unit(kind: str, name: ColumnName, options: TelemetryOptions) -> Unit | None:
    if kind == TIME:
        return _TIME_HAS_ITS_OWN_RULES
    asked = options.told(KINDS[kind].option, "unit")
    if asked is not None:
        return asked_unit(KINDS[kind].quantity, f"--{KINDS[kind].option}-unit", asked)
    # nothing but rpm and dB is in use without being named
    default = KINDS[kind].own_unit if kind in (RPM, LEVEL) else ""
    found = find_unit(KINDS[kind].quantity, name.unit or default)
    if found is None and kind == RPM:
        return find_unit("rpm", "rpm")
    if found is None and kind == SPEED:
        return _NAMED_BY_NOBODY
    return found
