"""What two drives come to as a whole: one judgement for page, terminal, history and desk.

A verdict already allows for a suspected change of gain (:mod:`analysis.compare.verdict`): where it
still says cured, it is. Only by how much is then not sure.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.compare.match.one_car import OTHER_GEARING
from analysis.compare.trim.advice import TRIM_UNKNOWN
from analysis.findings import Doubt, LockedTo
from analysis.verdicts import BandChange, Comparison, Verdict, suspected


def headline(comparison: Comparison) -> BandChange | None:
    """Band that the answer is about: the worst that the exhaust can be blamed for."""
    return next(iter(_own(comparison.changes) or comparison.changes), None)


def all_cured(comparison: Comparison) -> bool:
    """Whether every drone that the exhaust can be blamed for is gone, and nothing as bad is new."""
    is_droning = bool(comparison.new_bands) and not new_is_faint(comparison)
    has_news = is_droning or bool(comparison.whistles)
    return old_ones_cured(comparison.changes) and not has_news and not _rose_elsewhere(comparison)


def old_ones_cured(changes: Sequence[BandChange]) -> bool:
    """Whether every drone of the baseline that the exhaust can be blamed for is gone."""
    own = _own(changes)
    return bool(own) and all(change.verdict is Verdict.CURED for change in own)


def new_under_db(comparison: Comparison) -> float | None:
    """How far the loudest new drone stays below the one that was worst, each at its peak in dB.

    None without either, or where gain or microphone place may be in the levels.
    """
    change = headline(comparison)
    if change is None or not comparison.new_bands or not amount_is_sure(comparison):
        return None
    return change.band.level_db - max(band.level_db for band in comparison.new_bands)


def new_is_faint(comparison: Comparison) -> bool:
    """Whether every new drone is at least as far below the worst as a cure takes that one."""
    under_db = new_under_db(comparison)
    return under_db is not None and under_db >= -CURED_DB


def amount_is_sure(comparison: Comparison) -> bool:
    """Whether no change of gain or microphone place may be in the levels."""
    return suspected(comparison.gain) is None


def maybe_two_cars(comparison: Comparison) -> Doubt | None:
    """Give the doubt whether both drives are of one car, where no gear of theirs agrees."""
    return next((each for each in comparison.warnings if each.code == OTHER_GEARING), None)


def left_alone(comparison: Comparison, engine_order: float | None) -> Comparison:
    """Ask for no trim and no second branch where that order is cured as measured.

    What is foretold of a trim is less sure than what was measured without it. Nor is it said there
    that a trim cannot be told: none is wanted. Without an order every drone must be cured.
    """
    of_order = [c for c in comparison.changes if engine_order in (None, c.band.engine_order)]
    own = _own(of_order)
    if not own or not all(map(_is_down, own)) or _rose_elsewhere(comparison):
        return comparison
    outlook, addition = comparison.trim_outlook, comparison.addition
    return replace(
        comparison,
        trims=tuple(replace(trim, is_worth_it=False) for trim in comparison.trims),
        trim_outlook=None if outlook is None else replace(outlook, is_worth_it=False),
        addition=None
        if addition is None
        else replace(addition, outlook=replace(addition.outlook, is_worth_it=False)),
        warnings=tuple(each for each in comparison.warnings if each.code != TRIM_UNKNOWN),
    )


def _is_down(change: BandChange) -> bool:
    """Whether a drone is as far down as a cure asks for, though another hill may stand out now."""
    worked = change.verdict in (Verdict.CURED, Verdict.MOVED)
    return worked and change.level_change_db <= CURED_DB and not change.highest_change_db > CURED_DB


def _rose_elsewhere(comparison: Comparison) -> bool:
    """Whether a drone's order got louder elsewhere than a cure allows, and no gain may do that."""
    rose = any(c.elsewhere_change_db > ELSEWHERE_DB for c in _own(comparison.changes))
    return rose and amount_is_sure(comparison)


def _own(changes: Sequence[BandChange]) -> list[BandChange]:
    # what follows the road no exhaust makes, so it says nothing for or against the work on one
    return [c for c in changes if c.band.locked_to is not LockedTo.ROAD]
