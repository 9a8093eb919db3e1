"""The job, a function for each question that takes more than one room to answer.

``find`` the drone, ``size`` the branch, draw the ``sheets`` to build it from, ``compare`` the drive
after the work. Notebooks and commands alike ask here; pages and histories are made by
:mod:`analysis.report` and :mod:`analysis.compare.history`. Arrays, frames and results go in, frozen
results and bytes come out; no file is written.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from analysis.branches import Sizing
from analysis.compare.trim.built import (
    AsBuilt,
    SizedBranches,
    WeldedOn,
    built_branches,
    nearest_in_length,
    sized_branches,
)
from analysis.drive import NO_HINTS, Drive, SpeedHints
from analysis.exhaust.car import Car
from analysis.findings import Findings
from analysis.size.wishes import DroneWidth, SizeWishes, WidthUnit
from analysis.verdicts import Comparison, taken_off

# What sizes, draws and prints takes time and memory to load, which a drive of hours needs itself:
# each question loads its own.
if TYPE_CHECKING:
    from analysis.build.workshop.plan import BuildWishes
    from analysis.listen.two_drives import BothDrives
    from analysis.size.request import SizingRequest

__all__ = [
    "DroneWidth",
    "SizeWishes",
    "SpeedHints",
    "WidthUnit",
    "band_of",
    "compare",
    "find",
    "listen_to_both",
    "sheets",
    "size",
    "size_by_ear",
    "size_frequency",
    "welded_on",
]

Progress = Callable[[float], None]
_NO_WISHES = SizeWishes()
_NOTHING_BUILT = WeldedOn()


def find(
    drive: Drive, hints: SpeedHints = NO_HINTS, *, progress: Progress | None = None
) -> Findings:
    """Find the drone of a drive.

    Parameters
    ----------
    hints : SpeedHints
        What somebody knows of the engine speed, for a drive whose log does not hold it.
    progress : callable, optional
        Here and below: told now and then which part of the work, 0 to 1, is done.

    Raises
    ------
    AnalysisError
        A drive that cannot be analysed; the message says why.
    """
    from analysis.find.drone import find_drone

    if hints != NO_HINTS:
        drive = replace(drive, hints=hints)
    return find_drone(drive, progress=progress)


def size(
    findings: Findings,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
    *,
    progress: Progress | None = None,
) -> Sizing | None:
    """Size branches for the drones of a drive that trouble people, or for the one wished for.

    None when the drive has no drone that a branch could cure.

    Raises
    ------
    AnalysisError
        A drive without a result, or a wish that cannot be met.
    """
    from analysis.size.from_findings import with_orders_left
    from analysis.size.size import size_branches

    request = _request(findings, car, wishes)
    if request is None:
        return None
    return with_orders_left(size_branches(request, progress=progress), findings)


def size_frequency(
    frequency_hz: float,
    engine_order: float | None = None,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
    *,
    progress: Progress | None = None,
) -> Sizing:
    """Size branches for a frequency that somebody knows without a drive.

    Raises
    ------
    AnalysisError
        It is no drone's frequency, or a wish cannot be met.
    """
    from analysis.size.from_findings import request_for_frequency
    from analysis.size.size import size_branches

    request = request_for_frequency(
        frequency_hz=frequency_hz, engine_order=engine_order, car=car, wishes=wishes
    )
    return size_branches(request, progress=progress)


def size_by_ear(
    rpm: float,
    engine_order: float,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
    *,
    progress: Progress | None = None,
) -> Sizing:
    """Size branches for an engine speed at which somebody hears the drone, without a drive.

    As for its frequency, but what is foretold allows for the ear, and a warning says so.

    Raises
    ------
    AnalysisError
        As :func:`size_frequency`.
    """
    from analysis.size.advice import by_ear

    frequency_hz = rpm * engine_order / 60.0
    return by_ear(size_frequency(frequency_hz, engine_order, car, wishes, progress=progress))


def welded_on(
    baseline: Findings,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
    told: Sequence[AsBuilt] = (),
    *,
    sizing: Sizing | None = None,
    kept: SizedBranches | None = None,
) -> WeldedOn:
    """Give the branches as they were built after the baseline: as ``told``, or else as sized.

    The place that was kept for a second branch comes with one that was built. ``told`` has a length
    in m for each branch, or where its sleeve stands. Another number of them than was sized has cans
    only if those sized have. ``sizing`` is what `size` gave for the same drive and wishes, if it
    was asked already; ``kept`` what it said at the time, which counts before it; of two branches
    kept, a single length is that of the nearer one.

    Raises
    ------
    AnalysisError
        A wish that cannot be met.
    """
    if baseline.withheld:
        return WeldedOn()
    if kept is not None and len(told) <= len(kept.branches):
        return built_branches(nearest_in_length(kept, told), told)
    sizing = sizing or size(baseline, car, wishes)
    if sizing is not None and len(told) not in (0, len(sizing.branches)):
        cans = wishes.cans and any(branch.can for branch in sizing.branches)
        as_many = replace(wishes, branch_count=len(told), cans=cans)
        sizing = size(baseline, car, as_many)
    return WeldedOn() if sizing is None else built_branches(sized_branches(sizing), told)


def band_of(baseline: Findings, sized: SizedBranches) -> int | None:
    """Give the number of the drone that branches were sized for; None where none is such."""
    numbers = (
        number
        for number, band in enumerate(baseline.bands, start=1)
        if band.low_hz <= sized.peak_hz <= band.high_hz
        and sized.engine_order in (None, band.engine_order)
    )
    return next(numbers, None)


def listen_to_both(
    drives: tuple[Drive, Drive], found: tuple[Findings, Findings], comparison: Comparison
) -> BothDrives | None:
    """Give ten seconds of the drone before and after the work, at the same engine speeds.

    None where there is nothing to hear.
    """
    from analysis.compare.judgement import headline
    from analysis.listen.two_drives import both_drives

    change, gain = headline(comparison), taken_off(comparison.gain)
    if change is None:
        return None
    return both_drives(drives, found, change.band, 0.0 if gain is None else gain.gain_db)


def compare(
    baseline: Findings,
    postfix: Findings,
    built: WeldedOn = _NOTHING_BUILT,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
    *,
    progress: Progress | None = None,
) -> Comparison:
    """Compare the drives before and after the work; say what to trim of what was ``built``.

    ``car`` and ``wishes`` are what the branches were sized by.

    Raises
    ------
    AnalysisError
        Drives that cannot be compared, or a wish that cannot be met.
    """
    from analysis.compare.comparison import compare_drives

    sized_by = _request(baseline, car, wishes) if built.branches else None
    return compare_drives(
        baseline,
        postfix,
        built.branches,
        sized_by=sized_by,
        kept=built.kept,
        progress=progress,
    )


def sheets(
    sizing: Sizing,
    wishes: BuildWishes | None = None,
    paper: Literal["a4", "letter"] = "a4",
    made_for: str = "",
) -> bytes:
    """Draw the build sheets, as a PDF; ``made_for`` is whose, and when, at the foot of each.

    Raises
    ------
    AnalysisError
        An angle or a wall that cannot be, or a branch that does not fold into its room.
    """
    from analysis.build.sheets.book import PAPERS
    from analysis.build.sheets.every_sheet import build_sheets
    from analysis.build.workshop.plan import BuildWishes, plan_build

    return build_sheets(plan_build(sizing, wishes or BuildWishes()), PAPERS[paper], made_for)


def _request(findings: Findings, car: Car | None, wishes: SizeWishes) -> SizingRequest | None:
    from analysis.size.from_findings import bands_to_cure, request_for_bands

    bands = bands_to_cure(findings, wishes.band)
    return request_for_bands(findings, bands, car, wishes) if bands else None
