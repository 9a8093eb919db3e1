"""Choose the columns of a table, by what a person said and by their names; else ask."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

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
    _refuse_without_header(path, names, options)
    asked = {
        kind: _find_asked(path, names, text, KINDS[kind].option)
        for kind in KINDS
        if (text := options.told(KINDS[kind].option, "column")) is not None
        and not (kind == RPM and _leaves_rpm_out(names, options))
    }
    chosen: list[Choice] = []
    unused: dict[int, str] = {}
    for kind in KINDS:
        if kind == RPM and _leaves_rpm_out(names, options):
            continue
        # what was named for one quantity is not taken for another as well
        candidates = [
            index
            for index, name in enumerate(names)
            if index not in asked.values()
            and kind in kinds_of(name)
            and readable_share[index] >= _LEAST_READABLE
        ]
        candidates = [asked[kind]] if kind in asked else candidates
        if kind == LEVEL:
            chosen += _choose_levels(names, candidates, options)
        elif len(candidates) == 1:
            choice = _choice(kind, kind, candidates[0], names, options)
            chosen += choice
            unused |= {} if choice else {candidates[0]: "its name has no unit"}
        else:
            if not candidates:
                _refuse_words(path, kind, names, readable_share)
            unused |= _leave_out_or_ask(path, kind, names, candidates)
    _refuse_neither_speed(path, names, chosen)
    return ColumnChoice(chosen=tuple(chosen), unused=unused)


def _choice(
    kind: str, meaning: str, index: int, names: Sequence[ColumnName], options: TelemetryOptions
) -> list[Choice]:
    """Choose a column; not if its unit is not known."""
    name = names[index]
    unit = _unit(kind, name, options)
    if unit is None:
        return []
    is_open = kind in ALWAYS_ASKED and options.told(KINDS[kind].option, "unit") is None
    left_open = open_unit(name, kind) if is_open else ""
    return [Choice(index=index, meaning=meaning, name=name, unit=unit, open_unit=left_open)]


def _refuse_neither_speed(
    path: Path, names: Sequence[ColumnName], chosen: Sequence[Choice]
) -> None:
    if not {RPM, SPEED} & {each.meaning for each in chosen}:
        raise TelemetryError(
            f"without rpm {path} must hold road speed, and no column looks like it; give "
            f"--speed-column, one of: {_listed(names)}"
        )


def _refuse_words(
    path: Path, kind: str, names: Sequence[ColumnName], readable_share: Sequence[float]
) -> None:
    """Refuse a time or rpm column that is there by name, but holds something else."""
    if kind not in (TIME, RPM):
        return
    for name, share in zip(names, readable_share, strict=True):
        if kind in kinds_of(name) and share < _LEAST_READABLE:
            option = KINDS[kind].option
            raise TelemetryError(
                f'the {option} column "{name.text}" of {path} holds hardly any numbers; export it '
                f"with numbers, or give --{option}-column, one of: {_listed(names)}"
            )


def _leaves_rpm_out(names: Sequence[ColumnName], options: TelemetryOptions) -> bool:
    """``--rpm-column none``, unless a column goes by that name."""
    asked = (options.rpm_column or "").strip().casefold()
    return asked == NONE and all(name.text.casefold() != NONE for name in names)


def _leave_out_or_ask(
    path: Path, kind: str, names: Sequence[ColumnName], candidates: Sequence[int]
) -> dict[int, str]:
    """Decide on a quantity with no column or several: the main ones are asked for."""
    option = KINDS[kind].option
    if not candidates and kind in (TIME, RPM):
        raise TelemetryError(
            f"no column of {path} looks like {option}; give --{option}-column, one of: "
            f"{_listed(names)}{_without_rpm(names) if kind == RPM else ''}"
        )
    if candidates and kind in ALWAYS_ASKED:
        raise TelemetryError(
            f"{len(candidates)} columns could be {option}; give --{option}-column, "
            f"one of: {_quoted(names, candidates)}"
        )
    return dict.fromkeys(candidates, f"one of several; give --{option}-column to use it")


def _without_rpm(names: Sequence[ColumnName]) -> str:
    """Say what else may be the matter where no column looks like rpm."""
    told = ""
    if any(SPEED in kinds_of(name) for name in names):
        told = f", or --rpm-column {NONE} if the log holds road speed alone"
    if not all(name.text.isascii() for name in names):
        told += "; if these names look wrong, give --encoding"
    return told


def _refuse_without_header(
    path: Path, names: Sequence[ColumnName], options: TelemetryOptions
) -> None:
    if any(name.text for name in names):
        return
    if options.time_column is None or options.rpm_column is None:
        raise TelemetryError(
            f"{path} has no header, so its columns have no names; tell which is which by number, "
            f"1 to {len(names)}: --time-column 1 --rpm-column 2"
        )


def _find_asked(path: Path, names: Sequence[ColumnName], text: str, option: str) -> int:
    wanted = " ".join(text.split()).casefold()
    found = [index for index, name in enumerate(names) if name.text.casefold() == wanted]
    if not found:
        found = [index for index, name in enumerate(names) if name.words == wanted]
    if len(found) > 1:
        numbers = " or ".join(str(index + 1) for index in found)
        raise TelemetryError(
            f'{path} has several columns "{text}"; give --{option}-column by number: {numbers}'
        )
    if found:
        return found[0]
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:6]) <= len(names):
        return int(wanted[:6]) - 1
    raise TelemetryError(
        f'{path} has no column "{text}"; give --{option}-column, one of: {_listed(names)}'
    )


def _choose_levels(
    names: Sequence[ColumnName], candidates: Sequence[int], options: TelemetryOptions
) -> list[Choice]:
    asked = _asked_weighting(options)
    by_weighting: dict[str, list[int]] = {}
    for index in candidates:
        weighting = weighting_of(names[index]) or asked
        if weighting is None:
            raise TelemetryError(
                f'the level column "{names[index].text}" does not say how it is weighted; '
                "give --level-weighting A, C or Z (Z: unweighted), or --level-column"
            )
        by_weighting.setdefault(weighting, []).append(index)
    chosen: list[Choice] = []
    for weighting, indices in by_weighting.items():
        if len(indices) > 1:
            raise TelemetryError(
                f"{len(indices)} columns could be the {weighting.upper()} level; "
                f"give --level-column, one of: {_quoted(names, indices)}"
            )
        chosen += _choice(LEVEL, f"level_{weighting}_db", indices[0], names, options)
    return chosen


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


def _listed(names: Sequence[ColumnName]) -> str:
    return _quoted(names, range(len(names)))


def _quoted(names: Sequence[ColumnName], indices: Sequence[int]) -> str:
    shown = [f'{index + 1} "{names[index].text}"' for index in indices[:20]]
    return ", ".join(shown) + (", ..." if len(indices) > 20 else "")
