"""What weakens a comparison: each doubt in one place."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.compare.match.level_change import LevelChange
from analysis.compare.match.like_with_like import knows_gears, may_differ_in_gear
from analysis.compare.match.one_car import OTHER_GEARING
from analysis.compare.match.pair import DrivePair
from analysis.compare.match.same_setup import BACKGROUND_TOLERANCE_DB, SetupChange
from analysis.findings import Doubt, DroneBand, Findings
from analysis.verdicts import taken_off
from analysis.words.quantities import rpm
from analysis.words.sentences import listed

# judgement: fewer say too little of their own scatter, on which the interval of a change rests; to
# find a drone, which takes no such interval, two do (``analysis/find/doubts/driving.py``)
ENOUGH_PASSES = 3
_HOLDS = "The cure holds even so."
_AGAIN = "put the microphone where it was, set the same gain, and drive"


def comparison_doubts(
    pair: DrivePair,
    measured: Sequence[LevelChange],
    not_driven_before: Sequence[DroneBand],
    *,
    is_cured: bool,
) -> tuple[Doubt, ...]:
    """Every doubt about two drives, the gravest first.

    ``measured`` is the change of each band of the baseline; ``not_driven_before`` are bands of the
    post-fix drive where the baseline did not drive. ``is_cured``: every drone of the exhaust is
    gone, doubts and all, so that none asks for another drive.
    """
    baseline, postfix = pair.baseline, pair.postfix
    return (
        *_one_car(pair),
        *_baseline_withheld(baseline),
        *_levels_only(pair),
        *_gain(baseline, pair.setup, is_cured=is_cured),
        *_setup(baseline, postfix),
        *_driven_unlike(measured),
        *_gear_unknown(baseline, postfix),
        *_coverage(baseline, measured, is_cured=is_cured),
        *_not_driven_before(not_driven_before),
    )


def _baseline_withheld(baseline: Findings) -> Iterator[Doubt]:
    if baseline.no_levels:
        yield Doubt(
            code="baseline_withheld",
            message=f"The baseline gives no result, because {baseline.no_levels}, so there is "
            "nothing to compare with.",
        )


def _levels_only(pair: DrivePair) -> Iterator[Doubt]:
    heard, postfix = pair.heard, pair.postfix
    if not postfix.levels_only:
        return
    start = "Both drives hold only overall levels; what each order did cannot be told. "
    if pair.is_mixed:
        levels, sound = (heard, postfix) if heard.levels_only else (postfix, heard)
        start = (
            f"{levels.drive_name} holds only overall levels in {postfix.level_unit}, so only that "
            f"level was compared, although {sound.drive_name} holds sound; what each order did, "
            "and whether a new drone appeared, cannot be told. "
        )
    yield Doubt(
        code="levels_only",
        message=f"{start}Other noise could not be taken off, so if that noise was the same, the "
        "drone itself changed at least as much as shown. Nor can it be told whether a change comes "
        "from the exhaust or from wind and road, or what to trim. Record sound both times.",
    )


def _one_car(pair: DrivePair) -> Iterator[Doubt]:
    if pair.unlike is not None:
        yield pair.unlike
    elif pair.geared_off is not None:
        way = "faster" if pair.geared_off > 0.0 else "slower"
        yield Doubt(
            code=OTHER_GEARING,
            message=f"No gear of {pair.postfix.drive_name} is one of {pair.baseline.drive_name}: "
            f"at one road speed its engine turns {100.0 * abs(pair.geared_off):.0f} % {way}. "
            "Another car, other tyres, or road speed from elsewhere? Only drives of one car tell "
            "whether the work helped.",
        )


def _setup(baseline: Findings, postfix: Findings) -> Iterator[Doubt]:
    if baseline.is_flattened != postfix.is_flattened:
        with_it, without = sorted((baseline, postfix), key=lambda each: not each.is_flattened)
        yield Doubt(
            code="response_differs",
            message=f"The microphone's response was taken out of {with_it.drive_name} but not of "
            f"{without.drive_name}, so their levels differ by that response. Give "
            "--microphone-response for both drives or for neither.",
        )


def _gain(baseline: Findings, change: SetupChange, *, is_cured: bool) -> Iterator[Doubt]:
    if abs(change.background_db) > BACKGROUND_TOLERANCE_DB or change.gain is not None:
        message = _gain_message(change, is_cured=is_cured)
        yield Doubt(code="gain_or_place_differs", message=message)
    elif baseline.bands and np.isnan(change.reference_db) and np.isfinite(change.background_db):
        yield Doubt(
            code="gain_not_checked",
            message="No order far from the drones is clear in both drives, so a difference in "
            f"recording gain of up to about {BACKGROUND_TOLERANCE_DB:.0f} dB would go unnoticed. "
            "Levels are as recorded.",
        )


def _gain_message(change: SetupChange, *, is_cured: bool) -> str:
    gain = taken_off(change.gain)
    seen = f"From baseline to post-fix {' and '.join(_seen(change))}"
    if gain is None:
        then = _HOLDS if is_cured else f"{_AGAIN.capitalize()} the same road again."
        return f"{seen}: recording gain, microphone place, windows or road may differ. {then}"
    then = _HOLDS if is_cured else f"To be surer, {_AGAIN} again."
    return (
        f"{seen}: recording gain or microphone place differs. {gain.gain_db:+.1f} dB was taken off "
        f"all levels of the post-fix drive, right to within {gain.arm_db:.1f} dB (95 %). {then}"
    )


def _seen(change: SetupChange) -> Iterator[str]:
    if np.isfinite(change.background_db):
        yield f"the noise between the orders changed by {change.background_db:+.1f} dB"
    if np.isfinite(change.reference_db):
        yield (
            "orders far from any drone, which a branch leaves alone, changed by "
            f"{change.reference_db:+.1f} dB"
        )
    if np.isfinite(change.overall_db):
        yield f"the level changed by {change.overall_db:+.1f} dB at all engine speeds alike"


def _driven_unlike(measured: Sequence[LevelChange]) -> Iterator[Doubt]:
    """Where the drives were not driven alike, and what that costs."""
    met = [change for change in measured if change.shared > 0.0]
    given_up = sorted({each.value for change in met for each in change.given_up})
    if given_up:
        arm_db = max(change.unlike_arm_db for change in met)
        yield Doubt(
            code="driven_unlike",
            message=f"Through a band the two drives do not share {listed(given_up)}. What there is "
            f"was compared, and the interval is up to {arm_db:.0f} dB wider to either side. Drive "
            "again in the same gear, using the throttle the same way, up and down.",
        )


def _gear_unknown(baseline: Findings, postfix: Findings) -> Iterator[Doubt]:
    """Only where it matters: one drive tells its gears and has several, the other tells none."""
    if not baseline.curves or not postfix.curves:
        return
    before, after = baseline.curves[0], postfix.curves[0]
    if knows_gears(before) == knows_gears(after) or not may_differ_in_gear(before, after):
        return
    silent = postfix if knows_gears(before) else baseline
    yield Doubt(
        code="gear_unknown",
        message=f"The gear of {silent.drive_name} is not known, because its road speed is not, and "
        "the other drive used several gears. They may differ in gear, so the intervals are a "
        "little wider. Log road speed too.",
    )


def _coverage(
    baseline: Findings, measured: Sequence[LevelChange], *, is_cured: bool
) -> Iterator[Doubt]:
    if not baseline.bands:
        yield Doubt(
            code="no_baseline_drone",
            message=f"No drone was found in {baseline.drive_name}, so there is nothing to cure; "
            "check that the baseline swept through the noisy engine speed.",
        )
        return
    met = [
        (band, change)
        for band, change in zip(baseline.bands, measured, strict=True)
        if change.shared > 0.0
    ]
    if not met:
        return
    band, fewest = min(met, key=lambda each: min(each[1].passes_before, each[1].passes_after))
    if min(fewest.passes_before, fewest.passes_after) < ENOUGH_PASSES:
        then = _HOLDS if is_cured else f"{ENOUGH_PASSES} or more of each make it surer."
        yield Doubt(
            code="few_passes",
            message=f"At {rpm(band.peak_rpm)} (order {band.engine_order:g}) "
            f"{_sweeps(fewest.passes_before)} of the baseline and {_sweeps(fewest.passes_after)} "
            "of the post-fix drive could be compared: the interval there rests on an assumed "
            f"scatter. {then}",
        )


def _not_driven_before(bands: Sequence[DroneBand]) -> Iterator[Doubt]:
    if bands:
        where = [f"order {band.engine_order:g} at {rpm(band.peak_rpm)}" for band in bands]
        yield Doubt(
            code="not_driven_before",
            message=f"The post-fix drive drones where the baseline did not drive ({listed(where)}),"
            " so whether that is new cannot be told.",
        )


def _sweeps(count: int) -> str:
    return "one sweep" if count == 1 else f"{count} sweeps"
