"""From a level change and its interval to a verdict; its reason is put into words elsewhere."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.basics.cure import CURED_DB
from analysis.basics.interval import Interval
from analysis.compare import reasons
from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.compare.reasons import SMALL_CHANGE_DB
from analysis.compare.surroundings import Surroundings
from analysis.verdicts import GainChange, Verdict

# judgement: a cure's interval must end below the first; a wider interval than the second, with zero
# inside, tells nothing. The limits turn a verdict, never a number; 20 % more turned none of five.
CLEARLY_DOWN_DB = -6.0
WIDEST_INTERVAL_DB = 8.0
LOUDEST_DAY_DB = 6.0  # wind and road make no more between two days: common practice, no source

# judgement: how much a verdict claims: where two readings of the data differ, the lesser stands.
_CLAIM = {
    Verdict.CANNOT_TELL: 0,
    Verdict.UNCHANGED: 1,
    Verdict.REDUCED: 2,
    Verdict.WORSE: 2,
    Verdict.MOVED: 2,
    Verdict.CURED: 3,
}


def can_show_db(change: LevelChange, gain: GainChange | None) -> float:
    """Smallest change that the two drives can show over the band; NaN where they can show none.

    A suspected change of gain or microphone place could hide as much again.
    """
    hidden_db = 0.0 if gain is None else abs(gain.gain_db)
    return change.smallest_change_db + hidden_db if change.shared >= ENOUGH_SHARED else np.nan


def judge(change: LevelChange, around: Surroundings) -> tuple[Verdict, str]:
    """Give the verdict on one band and the reason for it."""
    if around.withheld:
        return Verdict.CANNOT_TELL, reasons.no_result(around.of_drive, around.withheld)
    if change.shared < ENOUGH_SHARED:
        return Verdict.CANNOT_TELL, reasons.too_little_shared(change)
    if change.before_buried:
        return Verdict.CANNOT_TELL, reasons.BASELINE_BURIED
    verdict = _verdict(change, around)
    if _is_hidden(around) and verdict is not Verdict.WORSE:
        return Verdict.CANNOT_TELL, reasons.hidden_in_level(change, around)
    if around.gain is None:
        return verdict, reasons.reason(verdict, change, around)
    return _judge_either_way(verdict, change, around, around.gain)


def _is_hidden(around: Surroundings) -> bool:
    """Whether the end of the drone would hardly show in the overall level."""
    return around.could_fall_db is not None and around.could_fall_db > -SMALL_CHANGE_DB


def _judge_either_way(
    as_recorded: Verdict, change: LevelChange, around: Surroundings, gain: GainChange
) -> tuple[Verdict, str]:
    """Judge with and without a suspected gain; where that differs, the lesser claim stands."""
    corrected = _verdict(_less_gain(change, gain), around)
    wider = either_way(change, gain)
    if as_recorded is corrected:
        return as_recorded, reasons.reason(as_recorded, wider, around)
    lesser = _lesser(as_recorded, corrected)
    if lesser is Verdict.UNCHANGED and not _is_nothing(as_recorded, change, gain):
        lesser = Verdict.CANNOT_TELL
    return lesser, reasons.gain_in_doubt(wider, around, gain)


def _verdict(change: LevelChange, around: Surroundings) -> Verdict:
    low, high = change.ci95_db.low, change.ci95_db.high
    has_zero = low <= 0.0 <= high
    if has_zero and high - low > WIDEST_INTERVAL_DB:
        return Verdict.CANNOT_TELL
    if abs(change.change_db) < SMALL_CHANGE_DB:
        return Verdict.UNCHANGED
    if has_zero:
        return Verdict.CANNOT_TELL
    if change.change_db > 0.0:
        return Verdict.WORSE
    if around.moved_to is not None:
        return Verdict.MOVED
    cured = change.change_db <= CURED_DB and high <= CLEARLY_DOWN_DB and around.left is None
    return Verdict.CURED if cured else Verdict.REDUCED


def either_way(change: LevelChange, gain: GainChange | None) -> LevelChange:
    """Let the interval take in both readings: as recorded, and with a suspected gain taken off."""
    if gain is None:
        return change
    ends = (change.ci95_db, _less_gain(change, gain).ci95_db)
    interval = Interval(low=min(each.low for each in ends), high=max(each.high for each in ends))
    return replace(change, ci95_db=interval)


def _is_nothing(verdict: Verdict, change: LevelChange, gain: GainChange) -> bool:
    """Whether the reading that says unchanged is likely, and its interval holds zero."""
    as_recorded = verdict is Verdict.UNCHANGED
    if as_recorded and abs(gain.gain_db) > LOUDEST_DAY_DB:  # no road did that
        return False
    read = change if as_recorded else _less_gain(change, gain)
    return read.ci95_db.low <= 0.0 <= read.ci95_db.high


def _less_gain(change: LevelChange, gain: GainChange) -> LevelChange:
    less_db = change.change_db - gain.gain_db
    down_db = np.hypot(change.change_db - change.ci95_db.low, gain.arm_db)
    up_db = np.hypot(change.ci95_db.high - change.change_db, gain.arm_db)
    return replace(
        change,
        change_db=less_db,
        ci95_db=Interval(low=less_db - float(down_db), high=less_db + float(up_db)),
    )


def _lesser(first: Verdict, second: Verdict) -> Verdict:
    if first is not second and _CLAIM[first] == _CLAIM[second]:
        return Verdict.CANNOT_TELL
    return min(first, second, key=_CLAIM.__getitem__)
