"""From a level change, and what else bears on it, to a verdict and the reason for it.

A reason is one sentence for each case; what to do stands behind a semicolon.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.cure import CURED_DB
from analysis.basics.interval import Interval
from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.compare.match.levels_of_sound import could_fall_db, weighting_of
from analysis.compare.match.pair import DrivePair
from analysis.findings import DroneBand, Findings
from analysis.verdicts import GainChange, Verdict
from analysis.words.quantities import rpm
from analysis.words.sentences import listed

# judgement: a cure's interval must end below the first; a wider interval than the second, with zero
# inside, tells nothing. The limits turn a verdict, never a number; 20 % more turned none of five.
CLEARLY_DOWN_DB = -6.0
WIDEST_INTERVAL_DB = 8.0
LOUDEST_DAY_DB = 6.0  # wind and road make no more between two days: common practice, no source

# judgement: less than this is no success and no harm, since gain and day can do as much.
SMALL_CHANGE_DB = 3.0

_BASELINE_BURIED = (
    "The baseline drone does not stand out of the other noise; record the baseline again on a "
    "smooth road with windows closed."
)

# judgement: a new band this far under the old one still counts as the drone.
MOVED_WITHIN_DB = 6.0

# judgement: how much a verdict claims: where two readings of the data differ, the lesser stands.
_CLAIM = {
    Verdict.CANNOT_TELL: 0,
    Verdict.UNCHANGED: 1,
    Verdict.REDUCED: 2,
    Verdict.WORSE: 2,
    Verdict.MOVED: 2,
    Verdict.CURED: 3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Around:
    """What else bears on the verdict on one band.

    Attributes
    ----------
    left : a band of the same order that peaks within the old one, in the post-fix drive
    moved_to : a band of the same order that rose elsewhere, nearly as loud as the old one
    gain : change of gain or microphone place that may be in every level; None for none
    overall_unit : unit of the overall level, where the drives hold no more; None for an order's own
    could_fall_db : how far that level would fall if the drone ended; None for an order's own level
    """

    left: DroneBand | None
    moved_to: DroneBand | None
    gain: GainChange | None
    overall_unit: str | None
    could_fall_db: float | None


def judge(band: DroneBand, change: LevelChange, pair: DrivePair) -> tuple[Verdict, str]:
    """Give the verdict on one band of the baseline and the reason for it."""
    if pair.unlike is not None:
        return Verdict.CANNOT_TELL, pair.unlike.message
    for drive, which in ((pair.postfix, "post-fix drive"), (pair.baseline, "baseline")):
        if drive.no_levels:
            why = f"The {which} gives no result, because {drive.no_levels}; drive again."
            return Verdict.CANNOT_TELL, why
    if change.shared < ENOUGH_SHARED:
        return Verdict.CANNOT_TELL, (
            f"Both drives share only {100.0 * change.shared:.0f} % of the band's engine speeds, "
            f"{100.0 * ENOUGH_SHARED:.0f} % are needed; sweep slowly through the whole band in "
            "both."
        )
    if change.before_buried:
        return Verdict.CANNOT_TELL, _BASELINE_BURIED
    around = _around(band, pair)
    verdict = _verdict(change, around)
    # the end of the drone would hardly show in the overall level
    hidden = around.could_fall_db is not None and around.could_fall_db > -SMALL_CHANGE_DB
    if hidden and verdict is not Verdict.WORSE:
        return Verdict.CANNOT_TELL, _hidden_in_level(change, around)
    if around.gain is None:
        return verdict, _reason(verdict, change, around)
    return _judge_either_way(verdict, change, around, around.gain)


def _around(band: DroneBand, pair: DrivePair) -> _Around:
    postfix = pair.postfix
    weighting = weighting_of(postfix)
    return _Around(
        left=next((b for b in _same_order(band, postfix) if _peaks_within(b, band)), None),
        moved_to=_moved_to(band, pair),
        gain=pair.suspected_gain,
        overall_unit=postfix.level_unit if postfix.levels_only else None,
        could_fall_db=None if weighting is None else could_fall_db(pair.heard, band, weighting),
    )


def _moved_to(band: DroneBand, pair: DrivePair) -> DroneBand | None:
    """Loudest band that took over: same order, elsewhere, nearly as loud, and risen there."""
    candidates = [
        other
        for other in _same_order(band, pair.postfix)
        if not _peaks_within(other, band)
        and other.level_db >= band.level_db - MOVED_WITHIN_DB
        and has_risen(other, pair)
    ]
    return max(candidates, key=lambda other: other.level_db, default=None)


def has_risen(band: DroneBand, pair: DrivePair) -> bool:
    """Whether a band of the post-fix drive came up; else it only stands out more than before.

    In doubt, because the baseline hardly drove there, it did.
    """
    change = pair.change_in(band)
    return change.shared < ENOUGH_SHARED or change.ci95_db.low > 0.0


def _same_order(band: DroneBand, findings: Findings) -> list[DroneBand]:
    return [other for other in findings.bands if other.engine_order == band.engine_order]


def _peaks_within(inner: DroneBand, outer: DroneBand) -> bool:
    return outer.low_rpm <= inner.peak_rpm <= outer.high_rpm


def can_show_db(change: LevelChange, gain: GainChange | None) -> float:
    """Smallest change that the two drives can show over the band; NaN where they can show none.

    A suspected change of gain or microphone place could hide as much again.
    """
    hidden_db = 0.0 if gain is None else abs(gain.gain_db)
    return change.smallest_change_db + hidden_db if change.shared >= ENOUGH_SHARED else np.nan


def _judge_either_way(
    as_recorded: Verdict, change: LevelChange, around: _Around, gain: GainChange
) -> tuple[Verdict, str]:
    """Judge with and without a suspected gain; where that differs, the lesser claim stands."""
    corrected = _verdict(_less_gain(change, gain), around)
    wider = either_way(change, gain)
    if as_recorded is corrected:
        return as_recorded, _reason(as_recorded, wider, around)
    lesser = _lesser(as_recorded, corrected)
    if lesser is Verdict.UNCHANGED and not _is_nothing(as_recorded, change, gain):
        lesser = Verdict.CANNOT_TELL
    return lesser, _gain_in_doubt(wider, around, gain)


def _verdict(change: LevelChange, around: _Around) -> Verdict:
    low, high = change.ci95_db.low, change.ci95_db.high
    has_zero = low <= 0.0 <= high
    # before what is small: nothing seen through so wide an interval is not "unchanged"
    if has_zero and high - low > WIDEST_INTERVAL_DB:
        return Verdict.CANNOT_TELL
    if abs(change.change_db) < SMALL_CHANGE_DB:
        return Verdict.UNCHANGED
    if has_zero:
        return Verdict.CANNOT_TELL
    # before what moved: louder where it was is worse, whatever came up elsewhere
    if change.change_db > 0.0:
        return Verdict.WORSE
    if around.moved_to is not None:
        return Verdict.MOVED
    cured = change.change_db <= CURED_DB and high <= CLEARLY_DOWN_DB
    return Verdict.CURED if cured and not _peak_is_left(change, around) else Verdict.REDUCED


def _peak_is_left(change: LevelChange, around: _Around) -> bool:
    """Whether the highest level is short of a cure; where it is not known, a drone left says so."""
    if np.isfinite(change.highest_change_db):
        return change.highest_change_db > CURED_DB
    return around.left is not None


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
        highest_change_db=change.highest_change_db - gain.gain_db,
        ci95_db=Interval(low=less_db - float(down_db), high=less_db + float(up_db)),
    )


def _lesser(first: Verdict, second: Verdict) -> Verdict:
    if first is not second and _CLAIM[first] == _CLAIM[second]:
        return Verdict.CANNOT_TELL
    return min(first, second, key=_CLAIM.__getitem__)


def _hidden_in_level(change: LevelChange, around: _Around) -> str:
    """Say that the drone makes too little of the overall level."""
    fall_db = -(around.could_fall_db or 0.0)
    return (
        f"{_measured(change, around)}, but the drone makes so little of that level that its end "
        f"would lower it by only {fall_db:.1f} dB; record sound both times."
    )


def _gain_in_doubt(change: LevelChange, around: _Around, gain: GainChange) -> str:
    """Say that gain or microphone place may have made the change."""
    elsewhere = "the level far from the drone" if around.overall_unit else "what no branch touches"
    return (
        f"{_measured(change, around)}, but {elsewhere} changed by {gain.gain_db:+.1f} dB too, so "
        "gain or microphone place seems to differ; the lesser claim stands."
    )


def _reason(verdict: Verdict, change: LevelChange, around: _Around) -> str:
    """Say what was measured, and what follows from it."""
    return f"{_measured(change, around)}{_what_follows(verdict, change, around)}"


def _measured(change: LevelChange, around: _Around) -> str:
    interval = change.ci95_db
    if change.after_buried:
        return (
            "The order no longer stands out of the other noise, so it fell by at least "
            f"{-interval.high:.1f} dB and how much more cannot be said"
        )
    what = f"overall level in {around.overall_unit}" if around.overall_unit else "order's level"
    return (
        f"The {what} changed by {change.change_db:+.1f} dB "
        f"(95 % between {interval.low:+.1f} and {interval.high:+.1f} dB)"
    )


def _what_follows(verdict: Verdict, change: LevelChange, around: _Around) -> str:
    if verdict is Verdict.CANNOT_TELL:
        return _cannot_tell(change)
    if verdict is Verdict.UNCHANGED:
        return f", less than the {SMALL_CHANGE_DB:.0f} dB that would count."
    if verdict is Verdict.WORSE:
        return ": louder than before."
    if verdict is Verdict.MOVED and around.moved_to is not None:
        now_rpm = around.moved_to.peak_rpm
        return f", but a drone of the same order now peaks at {rpm(now_rpm)}."
    if verdict is Verdict.CURED:
        highest = ""
        if np.isfinite(change.highest_change_db):
            highest = f", its highest level by {change.highest_change_db:+.1f} dB"
        if around.left is not None:
            left_rpm = around.left.peak_rpm
            return f"{highest}; what is left of the drone, at {rpm(left_rpm)}, is faint."
        return f"{highest}, and no drone is left in the band."
    if around.left is not None:
        return f", but a drone is left at {rpm(around.left.peak_rpm)}."
    if around.overall_unit:
        return (
            ": better; the drone itself fell by at least as much, and only sound can tell whether "
            "it is cured."
        )
    if change.change_db <= CURED_DB and change.highest_change_db > CURED_DB:
        return (
            f": better, but its highest level changed by only {change.highest_change_db:+.1f} dB, "
            f"and a cure is {-CURED_DB:.0f} dB of both."
        )
    return f": better, but short of the {-CURED_DB:.0f} dB of a cure."


def _cannot_tell(change: LevelChange) -> str:
    least_db = change.smallest_change_db
    shown = f"a change only from {least_db:.1f} dB" if np.isfinite(least_db) else "no change"
    advice = "record two or three more sweeps of each"
    if change.given_up:
        alike = listed(sorted(each.value for each in change.given_up))
        advice = f"they were not driven alike, so drive again with the same {alike}"
    return f"; drives like these show {shown}: {advice}."
