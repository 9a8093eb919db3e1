"""From a level change and its interval to a verdict, with the reason in one sentence."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.cure import CURED_DB
from analysis.basics.interval import Interval
from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.findings import DroneBand
from analysis.verdicts import GainChange, Verdict
from analysis.words.sentences import listed

CLEARLY_DOWN_DB = -6.0  # a cure's interval must end below this
SMALL_CHANGE_DB = 3.0  # less than this is no success and no harm: gain and day can do as much
WIDEST_INTERVAL_DB = 8.0  # a wider interval with zero inside tells nothing
LOUDEST_DAY_DB = 6.0  # wind and road make no more between two days: common practice, no source
MOVED_WITHIN_DB = 6.0  # a new band this far under the old one still counts as the drone

# how much a verdict claims: where two readings of the data differ, the lesser claim stands
_CLAIM = {
    Verdict.CANNOT_TELL: 0,
    Verdict.UNCHANGED: 1,
    Verdict.REDUCED: 2,
    Verdict.WORSE: 2,
    Verdict.MOVED: 2,
    Verdict.CURED: 3,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What else bears on the verdict on one band.

    Attributes
    ----------
    left : a band of the same order that peaks within the old one, in the post-fix drive
    moved_to : a band of the same order that rose elsewhere, nearly as loud as the old one
    withheld : why the post-fix drive gives no result; None when it does
    overall_unit : unit of the overall level, where the drives hold no more; None for an order's own
    could_fall_db : how far that level would fall if the drone ended; None for an order's own level
    gain : change that gain or microphone place may have made in every level; None for none
    """

    left: DroneBand | None
    moved_to: DroneBand | None
    gain: GainChange | None = None
    withheld: str | None = None
    overall_unit: str | None = None
    could_fall_db: float | None = None


def can_show_db(change: LevelChange, gain: GainChange | None) -> float:
    """Smallest change that the two drives can show over the band; NaN where they can show none.

    Gain or microphone place that seem to have changed could hide as much again.
    """
    hidden_db = 0.0 if gain is None else abs(gain.gain_db)
    return change.smallest_change_db + hidden_db if change.shared >= ENOUGH_SHARED else np.nan


def judge(change: LevelChange, around: Surroundings) -> tuple[Verdict, str]:
    """Verdict on one band and the reason for it."""
    if around.withheld:
        return Verdict.CANNOT_TELL, (
            f"The drive after the change gives no result, because {around.withheld}; drive again."
        )
    if change.shared < ENOUGH_SHARED:
        return Verdict.CANNOT_TELL, (
            f"Both drives share only {100.0 * change.shared:.0f} % of the band's engine speeds, "
            f"{100.0 * ENOUGH_SHARED:.0f} % are needed; sweep slowly through the whole band in "
            "both."
        )
    if change.before_buried:
        return Verdict.CANNOT_TELL, (
            "The baseline drone does not stand out of the other noise; record the baseline again "
            "on a smooth road with windows closed."
        )
    verdict = _verdict(change, around)
    could_fall_db = around.could_fall_db
    is_hidden = could_fall_db is not None and could_fall_db > -SMALL_CHANGE_DB
    if could_fall_db is not None and is_hidden and verdict is not Verdict.WORSE:
        return Verdict.CANNOT_TELL, (
            f"{_measured(change, around)}, but of that level the drone makes so little that its "
            f"end would lower it by only {-could_fall_db:.1f} dB; record sound both times."
        )
    gain = around.gain
    if gain is None:
        return verdict, _reason(verdict, change, around)
    corrected = _verdict(_less_gain(change, gain), around)
    if verdict is corrected:
        return verdict, _reason(verdict, either_way(change, gain), around)
    lesser = _lesser(verdict, corrected)
    if lesser is Verdict.UNCHANGED and not _is_nothing(verdict, change, gain):
        lesser = Verdict.CANNOT_TELL
    elsewhere = "the level far from the drone" if around.overall_unit else "what no branch touches"
    return lesser, (
        f"{_measured(either_way(change, gain), around)}, but {elsewhere} changed by "
        f"{gain.gain_db:+.1f} dB too, so gain or microphone place seem to differ; the lesser "
        f"claim stands."
    )


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
    """Whether the reading that says unchanged is likely and allows for no change at all."""
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


def _measured(change: LevelChange, around: Surroundings) -> str:
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


def _reason(verdict: Verdict, change: LevelChange, around: Surroundings) -> str:
    measured = _measured(change, around)
    if verdict is Verdict.CANNOT_TELL:
        least_db = change.smallest_change_db
        shown = f"a change only from {least_db:.1f} dB" if np.isfinite(least_db) else "no change"
        advice = "record two or three more passes of each"
        if change.given_up:
            alike = listed(sorted(each.value for each in change.given_up))
            advice = f"they were not driven alike, so drive again with the same {alike}"
        return f"{measured}; drives like these show {shown}: {advice}."
    if verdict is Verdict.UNCHANGED:
        return f"{measured}, less than the {SMALL_CHANGE_DB:.0f} dB that would count."
    if verdict is Verdict.WORSE:
        return f"{measured}: louder than before."
    if verdict is Verdict.MOVED and around.moved_to is not None:
        moved = around.moved_to
        return f"{measured}, but a drone of the same order now peaks at {moved.peak_rpm:,.0f} rpm."
    if verdict is Verdict.CURED:
        return f"{measured}, and no drone is left in the band."
    if around.left is not None:
        return f"{measured}, but a drone is left at {around.left.peak_rpm:,.0f} rpm."
    if around.overall_unit:
        return (
            f"{measured}: better; the drone itself fell by at least as much, and whether it is "
            "cured only sound can tell."
        )
    return f"{measured}: better, but short of the {-CURED_DB:.0f} dB of a cure."
