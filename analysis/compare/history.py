"""A history of the car: every later drive against the baseline.

The drives are analysed one at a time, and only the comparison of each is kept, so that a long
history needs no more memory than a short one.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, TypeVar

from analysis.compare.car_changes import car_changes
from analysis.compare.comparison import compare_drives
from analysis.errors import AnalysisError, DriveError
from analysis.findings import Doubt, DroneBand, Findings
from analysis.verdicts import Comparison
from analysis.words.sentences import listed


class DriveToFind(Protocol):
    """A drive of the history, not yet analysed."""

    @property
    def name(self) -> str:
        """Unlike that of every other drive."""

    @property
    def start_time_utc(self) -> datetime | None:
        """None when nobody knows."""

    @property
    def start_is_of_file(self) -> bool:
        """Whether that time is only when a file was last written."""

    @property
    def note(self) -> str:
        """What the session says of itself beside its name."""

    @property
    def car(self) -> Mapping[str, object] | None:
        """The car file as plain data, as it was at that time."""


_MOST_NAMES = 20  # judgement: more names than this make no line
_R = TypeVar("_R", bound=DriveToFind)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusedSession:
    """A session that is in the folder and not in the history."""

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryDrive:
    """One drive.

    Attributes
    ----------
    changed : the notes on what was changed since the drive before, or since the baseline where
        nobody knows which that is
    comparison : with the baseline; None for the baseline itself, and where ``why_not`` says why
    """

    name: str
    start_time_utc: datetime | None
    changed: tuple[str, ...]
    comparison: Comparison | None
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Every drive against the baseline.

    ``drives`` are in the order of time, the baseline first; where a time is missing, the others
    are in the order of their names. ``warnings`` are about the history as a whole.
    """

    baseline: Findings
    drives: tuple[HistoryDrive, ...]
    left_out: tuple[UnusedSession, ...]
    warnings: tuple[Doubt, ...]

    @property
    def worst_band(self) -> DroneBand | None:
        """The baseline's worst drone, which the history follows."""
        return self.baseline.bands[0] if self.baseline.bands else None


def make_history(
    drives: Iterable[_R],
    find: Callable[[_R], Findings],
    unreadable: Iterable[tuple[str, str]] = (),
    *,
    baseline: str | None = None,
    refused: tuple[type[Exception], ...] = (AnalysisError,),
) -> History:
    """Analyse every drive and compare it with the baseline: the first drive, or the one named.

    Parameters
    ----------
    drives : iterable, in any order
    find : callable
        Reads and analyses the drive of a drive.
    unreadable : iterable of (str, str)
        Name of a session that could not be read, and why.
    baseline : name of a drive, optional
    refused : what ``find`` raises where it fails, each with one line that says why

    Raises
    ------
    DriveError
        Nobody knows which drive was the first; there is no such baseline, it cannot be analysed,
        or no other drive is left.
    """
    left_out = [UnusedSession(name=name, why=why) for name, why in unreadable]
    ordered, warnings = _in_order([*drives], baseline)
    is_by_time = all(drive.start_time_utc is not None for drive in ordered)
    first, later = _from_baseline(ordered, left_out, baseline, by_time=is_by_time)
    try:
        found = find(first)
    except refused as error:
        raise DriveError(
            f"the baseline, {first.name}, cannot be used: {error}; name another with --baseline"
        ) from error
    made = [_drive(first, found, found, ())]
    before = first
    for each in later:
        changed = ((each.note,) if each.note else ()) + car_changes(before.car, each.car)
        try:  # the findings go before the next are made
            made.append(_drive(each, find(each), found, changed))
        except refused as error:
            left_out.append(UnusedSession(name=each.name, why=str(error)))
            continue
        # without times nobody knows which drive came before, so notes are against the baseline
        before = each if is_by_time else first
    _refuse_too_few(made, left_out)
    return History(
        baseline=found, drives=tuple(made), left_out=tuple(left_out), warnings=tuple(warnings)
    )


def _in_order(drives: list[_R], baseline: str | None) -> tuple[list[_R], list[Doubt]]:
    """Sort by time; where one is missing, by name behind the baseline, and say so.

    Raises
    ------
    DriveError
        A time is missing, so that nobody knows which drive came first.
    """
    untimed = [f"'{drive.name}'" for drive in drives if drive.start_time_utc is None]
    by_name = sorted(drives, key=lambda drive: _natural(drive.name))
    if untimed and baseline is None and len(drives) > 1:
        names = ", ".join(f"'{drive.name}'" for drive in by_name[:_MOST_NAMES])
        raise DriveError(
            f"nobody knows when {listed(untimed[:_MOST_NAMES])} started, so which drive came "
            f"first? Give --baseline, one of: {names}; or import with --started"
        )
    if untimed:
        message = (
            f"Nobody knows when {listed(untimed)} started, so the drives after the baseline are in "
            "the order of their names; import with --started, or write start_time_utc into "
            "session.json."
        )
        return by_name, [Doubt(code="order_by_name", message=message)]
    copied = [f"'{drive.name}'" for drive in drives if drive.start_is_of_file]
    # from the order of names: drives that began in the same second keep it
    ordered = sorted(by_name, key=lambda drive: drive.start_time_utc or datetime.max)
    start = ordered[0].start_time_utc if ordered else None
    first = [f"'{each.name}'" for each in ordered if each.start_time_utc == start]
    if start is not None and baseline is None and len(first) > 1:
        message = (
            f"By their times {listed(first)} started together, so the first by name is taken as "
            "the baseline. If another is, name it with --baseline, or import with --started."
        )
        return ordered, [Doubt(code="order_tied", message=message)]
    if not copied or len(drives) < 2:
        return ordered, []
    message = (
        f"When {listed(copied)} started is known only from when a file was last written, which "
        "may be when it was copied. If the order of the drives is wrong, import with --started."
    )
    return ordered, [Doubt(code="order_by_file_time", message=message)]


def _natural(name: str) -> list[tuple[int, str]]:
    """Let run 2 come before run 10."""
    parts = re.split(r"([0-9]+)", name.casefold())
    return [(int(p), "") if p.isdecimal() and p.isascii() else (-1, p) for p in parts]


def _from_baseline(
    ordered: Sequence[_R],
    left_out: list[UnusedSession],
    baseline: str | None,
    *,
    by_time: bool,
) -> tuple[_R, list[_R]]:
    """Separate the baseline from the drives after it; note what was driven before it."""
    _refuse_too_few(ordered, left_out)
    names = [drive.name for drive in ordered]
    if baseline is None:
        return ordered[0], [*ordered[1:]]
    if baseline not in names:
        raise DriveError(
            f"there is no drive {baseline!r} to be the baseline; choose one of {', '.join(names)}"
        )
    at = names.index(baseline)
    others = [*ordered[:at], *ordered[at + 1 :]]
    if by_time:
        start = ordered[at].start_time_utc
        before = [each for each in ordered[:at] if each.start_time_utc != start]
        why = "it was driven before the baseline"
        left_out += [UnusedSession(name=each.name, why=why) for each in before]
        others = others[len(before) :]
    _refuse_too_few([ordered[at], *others], left_out)
    return ordered[at], others


def _refuse_too_few(
    drives: Sequence[DriveToFind | HistoryDrive], left_out: Sequence[UnusedSession]
) -> None:
    if len(drives) >= 2:
        return
    held = f"only {drives[0].name}" if drives else "no session"
    lost = "".join(f"; {each.name} is left out: {each.why}" for each in left_out)
    raise DriveError(f"a history needs two drives or more, and {held} can be used{lost}")


def _drive(
    drive: DriveToFind, found: Findings, baseline: Findings, changed: tuple[str, ...]
) -> HistoryDrive:
    """Compare what was found with the baseline; nothing else of it is kept."""
    comparison, why_not = None, ""
    if found is not baseline:
        try:
            comparison = compare_drives(baseline, found)
        except DriveError as error:
            why_not = str(error)
    return HistoryDrive(
        name=drive.name,
        start_time_utc=drive.start_time_utc,
        changed=changed,
        comparison=comparison,
        why_not=why_not,
    )
