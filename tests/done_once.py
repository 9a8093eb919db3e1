"""Each drive found, each request sized and each pair compared once.

For tests of what is done with the results. The guesses at an exhaust, most of the work of a sizing,
are fitted once for all that is wished of it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any

import pytest

from analysis.basics.interval import Interval
from analysis.branches import Sizing
from analysis.compare.comparison import compare_drives
from analysis.compare.trim.both_drives import Conditioned, Drives, condition
from analysis.compare.trim.built import BuiltBranch
from analysis.drive import Drive, SampleBlock
from analysis.exhaust.line import ExhaustLine
from analysis.find.drone import find_drone
from analysis.findings import Findings, TailSound
from analysis.size.branch_gas import BranchGas
from analysis.size.drone_curve import DroneCurve
from analysis.size.request import SizingRequest
from analysis.size.setup import Setup, set_up
from analysis.size.size import size_branches
from analysis.verdicts import Comparison
from analysis.words.shown import either

_FOUND: dict[str, Findings] = {}
_SIZED: dict[bytes, Sizing] = {}
_COMPARED: dict[bytes, Comparison] = {}
_SET_UP: dict[bytes, Setup] = {}
_CONDITIONED: dict[bytes, Conditioned] = {}
_KEPT = 3  # some 50 MB each


def found_once(drive: Drive, *, progress: Callable[[float], None] | None = None) -> Findings:
    """As ``find_drone``; what was found before in the very same drive is given again."""
    known = f"{_fingerprint(drive)} {_units_shown()}"
    if known not in _FOUND:
        _FOUND[known] = find_drone(drive, progress=progress)
    elif progress is not None:
        progress(1.0)
    return _FOUND[known]


def sized_once(
    request: SizingRequest, *, progress: Callable[[float], None] | None = None
) -> Sizing:
    """As ``size_branches``; what was sized before for the very same request is given again."""
    known = pickle.dumps((request, _units_shown()))
    if known not in _SIZED:
        _SIZED[known] = size_branches(request, progress=progress)
    elif progress is not None:
        progress(1.0)
    return _SIZED[known]


def set_up_once(
    line: ExhaustLine,
    curve: DroneCurve,
    engine_order: float | None,
    branch_gas_k: Interval,
    progress: Callable[[float], None],
    hottest_k: float | None = None,
    tail: TailSound | None = None,
) -> Setup:
    """As ``set_up``; the last few that were fitted to the very same curve are given again."""
    asked = (line, curve, engine_order, branch_gas_k)
    known = pickle.dumps((*asked, hottest_k, tail))
    if known not in _SET_UP:
        for oldest in list(_SET_UP)[: 1 - _KEPT]:
            del _SET_UP[oldest]
        _SET_UP[known] = set_up(*asked, progress, hottest_k, tail)
    return _SET_UP[known]


def sized_with_guesses(request: SizingRequest) -> tuple[Sizing, Setup]:
    """Size on the whole exhaust; gives the guesses too that it was worked out on."""
    fitted: list[Setup] = []

    def kept(*asked: Any) -> Setup:
        fitted.append(set_up_once(*asked))
        return fitted[-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("analysis.size.on_exhaust.set_up", kept)
        sizing = size_branches(request)
    (setup,) = fitted
    return sizing, setup


def compared_once(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch] = (),
    *,
    sized_by: SizingRequest | None = None,
    kept: BuiltBranch | None = None,
    progress: Callable[[float], None] | None = None,
) -> Comparison:
    """As ``compare_drives``; what was compared before is given again."""
    known = pickle.dumps((baseline, postfix, tuple(built), sized_by, kept, _units_shown()))
    if known not in _COMPARED:
        _COMPARED[known] = compare_drives(
            baseline, postfix, built, sized_by=sized_by, kept=kept, progress=progress
        )
    elif progress is not None:
        progress(1.0)
    return _COMPARED[known]


def condition_once(
    line: ExhaustLine,
    drives: Drives,
    built: Sequence[BuiltBranch],
    gas: BranchGas,
    progress: Callable[[float], None],
    kept: BuiltBranch | None = None,
) -> Conditioned:
    """As ``condition``; the last few that were fitted to the very same drives are given again."""
    known = pickle.dumps((line, drives, tuple(built), gas, kept))
    if known not in _CONDITIONED:
        for oldest in list(_CONDITIONED)[: 1 - _KEPT]:
            del _CONDITIONED[oldest]
        _CONDITIONED[known] = condition(line, drives, built, gas, progress, kept)
    return _CONDITIONED[known]


def _units_shown() -> str:
    """Name the units that what is found and sized is told in."""
    return either("metric", "inch", "both")


def _fingerprint(drive: Drive) -> str:
    """Every sample, every row and all that the drive says of itself."""
    seen = hashlib.sha256(drive.telemetry.to_csv().encode())
    if drive.sound is not None:
        for block in drive.sound.read_blocks():
            seen.update(block.tobytes())
        drive = replace(drive, sound=replace(drive.sound, read_blocks=_unread))
    seen.update(repr(replace(drive, telemetry=drive.telemetry[:0])).encode())
    return seen.hexdigest()


def _unread() -> Iterator[SampleBlock]:
    raise AssertionError("only to be printed, and always the same")
