"""The overall level before and after: over engine speed, at idle, in cruise and over all.

An overall level holds wind, road and every order, so nothing is taken off and no band is judged by
it; it is what a passenger hears and a sound level meter shows. Gear, load and direction are kept
alike as for an order.

*Idle*: engine speed steady below 1,100 rpm, and in no gear as far as road speed tells; one state,
whatever the exact speed. *Cruise*: all driving within 3 % of an engine speed above idle that either
drive held steadily for 5 s, not standing. *Whole drive*: every engine speed that both drives hold.
In the last two each engine speed counts once, by its mean square.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import BoolArray, IntArray
from analysis.basics.rows import rows
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.level_change import OVERALL_DAY_SPREAD_DB, change_in_bins
from analysis.compare.match.like_with_like import knows_gears
from analysis.compare.match.side_by_side import side_by_side
from analysis.find.curves.pass_table import direction
from analysis.findings import STANDING, Findings, OverallPasses
from analysis.verdicts import DrivePart, OverallBeforeAfter, PartChange

# judgement: what idle and cruise are; only the levels told of them depend on it.
_IDLE_BELOW_RPM = 1100.0
_STEADY_S = 5.0
_CRUISE_BINS = 3  # of 1 % to either side


def overall_before_after(baseline: Findings, postfix: Findings) -> tuple[OverallBeforeAfter, ...]:
    """Overall level over the engine speeds that both drives hold, in each common weighting."""
    laid = (
        (before, side_by_side(before, after))
        for before, after in _same_weighting(baseline, postfix)
    )
    return tuple(
        OverallBeforeAfter(weighting=before.weighting, **both.over_rpm(baseline.full_scale_db))
        for before, both in laid
        if both.shared.any()
    )


def part_changes(
    baseline: Findings, postfix: Findings, gain_sd_db: float = 0.0
) -> tuple[PartChange, ...]:
    """Give the changes at idle, in cruise and over the whole drive, as far as both hold them.

    ``gain_sd_db`` is the standard uncertainty of the gain that was taken off.
    """
    between_db = math.hypot(OVERALL_DAY_SPREAD_DB, gain_sd_db)
    return tuple(
        change
        for before, after in _same_weighting(baseline, postfix)
        for change in _parts(before, after, baseline.full_scale_db, between_db)
    )


def _same_weighting(
    baseline: Findings, postfix: Findings
) -> Iterator[tuple[OverallPasses, OverallPasses]]:
    others = {curve.weighting: curve for curve in postfix.overall_passes}
    for before in baseline.overall_passes:
        if before.weighting in others:
            yield before, others[before.weighting]


def _parts(
    before: OverallPasses, after: OverallPasses, full_scale_db: float, between_db: float
) -> Iterator[PartChange]:
    idle_before, idle_after = (_as_one_bin(curve, _idling(curve)) for curve in (before, after))
    idle_rpm = np.concatenate([idle_before.rpm, idle_after.rpm])
    cruise_bins = np.union1d(_cruise_bins(before), _cruise_bins(after))
    both_hold = np.intersect1d(before.bin_index, after.bin_index)
    # steady in one drive is enough; both must hold it, or there is nothing to compare
    cruise_bins = np.intersect1d(cruise_bins, both_hold)
    for part, first, second, bins, rpm in (
        (DrivePart.IDLE, idle_before, idle_after, np.zeros(1, dtype=np.int64), idle_rpm),
        (DrivePart.CRUISE, before, after, cruise_bins, bin_centre_rpm(cruise_bins)),
        (DrivePart.WHOLE, before, after, both_hold, bin_centre_rpm(both_hold)),
    ):
        change = change_in_bins(first, second, bins, between_drives_db=between_db)
        if change.shared > 0.0:
            yield PartChange(
                part=part,
                weighting=before.weighting,
                low_rpm=float(rpm.min()),
                high_rpm=float(rpm.max()),
                before_db=full_scale_db + change.before_db,
                after_db=full_scale_db + change.after_db,
                change_db=change.change_db,
                ci95_db=change.ci95_db,
                kept_alike=tuple(sorted(change.kept_alike)),
            )


def _idling(curve: OverallPasses) -> BoolArray:
    # not "gear < 0": a gear that is not known is NaN, and may be none
    in_no_gear = ~(curve.gear >= 0.0)
    slow = (direction(curve) == 0) & (curve.rpm < _IDLE_BELOW_RPM)
    return np.asarray(slow & in_no_gear if knows_gears(curve) else slow)


def _as_one_bin(curve: OverallPasses, chosen: BoolArray) -> OverallPasses:
    """Keep the chosen points, as if engine speed and gear were the same in all."""
    kept = rows(curve, chosen)
    return replace(
        kept,
        bin_index=np.zeros(kept.rpm.size, dtype=np.int64),
        gear=np.full(kept.rpm.size, np.nan),
    )


def _cruise_bins(curve: OverallPasses) -> IntArray:
    """Rpm bins within reach of an engine speed held steadily [shape=(n,)]."""
    steady = (direction(curve) == 0) & (curve.rpm >= _IDLE_BELOW_RPM)
    if knows_gears(curve):
        steady &= curve.gear != STANDING
    seconds = np.bincount(curve.pass_index, weights=np.where(steady, curve.seconds, 0.0))
    long_enough = steady & (seconds[curve.pass_index] >= _STEADY_S)
    reach = np.arange(-_CRUISE_BINS, _CRUISE_BINS + 1)
    return np.unique(curve.bin_index[long_enough, np.newaxis] + reach)
