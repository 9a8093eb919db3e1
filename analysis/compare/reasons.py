"""The reason for a verdict, one sentence for each case; what to do stands behind a semicolon."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.cure import CURED_DB
from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.compare.surroundings import Surroundings
from analysis.verdicts import GainChange, Verdict
from analysis.words.sentences import listed

# judgement: less than this is no success and no harm, since gain and day can do as much.
SMALL_CHANGE_DB = 3.0  # less than this is no success and no harm: gain and day can do as much

BASELINE_BURIED = (
    "The baseline drone does not stand out of the other noise; record the baseline again on a "
    "smooth road with windows closed."
)


def no_result(which: str, why: str) -> str:
    """Say that one of the drives gives nothing to judge by."""
    return f"The {which} gives no result, because {why}; drive again."


def too_little_shared(change: LevelChange) -> str:
    """Say that the drives do not overlap enough."""
    return (
        f"Both drives share only {100.0 * change.shared:.0f} % of the band's engine speeds, "
        f"{100.0 * ENOUGH_SHARED:.0f} % are needed; sweep slowly through the whole band in both."
    )


def hidden_in_level(change: LevelChange, around: Surroundings) -> str:
    """Say that the drone makes too little of the overall level."""
    fall_db = -(around.could_fall_db or 0.0)
    return (
        f"{_measured(change, around)}, but the drone makes so little of that level that its end "
        f"would lower it by only {fall_db:.1f} dB; record sound both times."
    )


def gain_in_doubt(change: LevelChange, around: Surroundings, gain: GainChange) -> str:
    """Say that gain or microphone place may have made the change."""
    elsewhere = "the level far from the drone" if around.overall_unit else "what no branch touches"
    return (
        f"{_measured(change, around)}, but {elsewhere} changed by {gain.gain_db:+.1f} dB too, so "
        "gain or microphone place seems to differ; the lesser claim stands."
    )


def reason(verdict: Verdict, change: LevelChange, around: Surroundings) -> str:
    """Say what was measured, and what follows from it."""
    return f"{_measured(change, around)}{_what_follows(verdict, change, around)}"


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


def _what_follows(verdict: Verdict, change: LevelChange, around: Surroundings) -> str:
    if verdict is Verdict.CANNOT_TELL:
        return _cannot_tell(change)
    if verdict is Verdict.UNCHANGED:
        return f", less than the {SMALL_CHANGE_DB:.0f} dB that would count."
    if verdict is Verdict.WORSE:
        return ": louder than before."
    if verdict is Verdict.MOVED and around.moved_to is not None:
        now_rpm = around.moved_to.peak_rpm
        return f", but a drone of the same order now peaks at {now_rpm:,.0f} rpm."
    if verdict is Verdict.CURED:
        return ", and no drone is left in the band."
    if around.left is not None:
        return f", but a drone is left at {around.left.peak_rpm:,.0f} rpm."
    if around.overall_unit:
        return (
            ": better; the drone itself fell by at least as much, and only sound can tell whether "
            "it is cured."
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
