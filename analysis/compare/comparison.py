"""Did it work? Two drives matched by rpm: level change, interval and verdict for each band."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.interval import Interval
from analysis.compare.doubts import comparison_doubts
from analysis.compare.judgement import left_alone, old_ones_cured
from analysis.compare.match.left_out import matching_of
from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.compare.match.pair import DrivePair, drive_pair
from analysis.compare.match.side_by_side import shared_curves, side_by_side
from analysis.compare.overall_change import overall_before_after, part_changes
from analysis.compare.trim.advice import TrimAdvice
from analysis.compare.trim.built import BuiltBranch
from analysis.compare.trim.by_frequency import advise_trims
from analysis.compare.trim.on_exhaust import trims_on_exhaust
from analysis.compare.verdict import can_show_db, either_way, has_risen, judge
from analysis.compare.whistles import new_whistles
from analysis.find.curves.pass_table import bins_within
from analysis.findings import DroneBand, Findings
from analysis.size.request import SizingRequest
from analysis.verdicts import BandChange, Comparison, OrderBeforeAfter


def compare_drives(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch] = (),
    *,
    sized_by: SizingRequest | None = None,
    kept: BuiltBranch | None = None,
    progress: Callable[[float], None] | None = None,
) -> Comparison:
    """Compare a baseline drive with one after the work on the exhaust.

    Parameters
    ----------
    baseline, postfix : Findings
        In the same level unit; or one with sound on an absolute scale and one with levels only.
    built : sequence of BuiltBranch
        The branches welded on in between; without them nothing is said about trimming.
    sized_by : SizingRequest, optional
        What they were sized by; with the whole exhaust in it, trims are worked out on that.
    kept : BuiltBranch, optional
        A second branch that a place was kept for, beside the one that was built.
    progress : callable, optional
        Told now and then how much of the work is done, from 0 to 1.

    Raises
    ------
    DriveError
        The levels of the two drives do not mean the same.
    """
    pair = drive_pair(baseline, postfix)
    baseline, postfix = pair.baseline, pair.postfix
    measured = [_measured(band, pair) for band in baseline.bands]
    judged = zip(baseline.bands, measured, strict=True)
    changes = tuple(_judged(band, change, pair) for band, change in judged)
    fresh, not_driven_before = _new_bands(pair)
    levels = _order_levels(pair)
    of_bands = {band.engine_order for band in baseline.bands + postfix.bands}
    advice = _trims(pair, built, sized_by, kept, progress or (lambda _: None))
    is_cured = old_ones_cured(changes)
    doubts = comparison_doubts(pair, measured, not_driven_before, is_cured=is_cured)
    comparison = Comparison(
        baseline_name=baseline.drive_name,
        postfix_name=postfix.drive_name,
        level_unit=baseline.level_unit,
        is_of_levels=baseline.levels_only,
        gain=pair.setup.gain,
        matching=matching_of(baseline, postfix),
        changes=changes,
        new_bands=fresh,
        whistles=() if pair.is_withheld else new_whistles(baseline, postfix),
        curves=tuple(each for each in levels if each.engine_order in of_bands),
        other_curves=tuple(each for each in levels if each.engine_order not in of_bands),
        overall=() if pair.is_withheld else overall_before_after(baseline, postfix),
        parts=() if pair.is_withheld else part_changes(baseline, postfix, pair.gain_sd_db),
        trims=advice.trims,
        trim_outlook=advice.outlook,
        addition=advice.addition,
        warnings=(*doubts, *advice.doubts),
    )
    return left_alone(comparison, None if sized_by is None else sized_by.target.engine_order)


def _new_bands(pair: DrivePair) -> tuple[tuple[DroneBand, ...], tuple[DroneBand, ...]]:
    """Give the bands that are new, and those where the baseline did not drive, so nobody knows.

    Overall levels against sound tell neither.
    """
    # what seems to rise in a level that the recorder held may be its gain
    if pair.is_mixed or pair.postfix.level_was_held:
        return (), ()
    fresh = [
        band
        for band in pair.postfix.bands
        if not _overlaps_any(band, pair.baseline.bands) and has_risen(band, pair)
    ]
    new = tuple(band for band in fresh if _drove_through(band, pair.baseline))
    return new, tuple(band for band in fresh if band not in new)


def _overlaps_any(band: DroneBand, others: Sequence[DroneBand]) -> bool:
    return any(
        other.engine_order == band.engine_order
        and other.low_rpm <= band.high_rpm
        and band.low_rpm <= other.high_rpm
        for other in others
    )


def _drove_through(band: DroneBand, findings: Findings) -> bool:
    curve = findings.curve(band.engine_order)
    if curve is None:
        return False
    held = np.isin(bins_within(band.low_rpm, band.high_rpm), curve.bin_index)
    return bool(held.mean() >= ENOUGH_SHARED)


def _order_levels(pair: DrivePair) -> tuple[OrderBeforeAfter, ...]:
    """Orders that both drives hold somewhere, the lowest first."""
    laid = (
        (before.engine_order, side_by_side(before, after))
        for before, after in shared_curves(pair.baseline, pair.postfix)
    )
    levels = (
        OrderBeforeAfter(engine_order=order, **both.over_rpm(pair.baseline.full_scale_db))
        for order, both in laid
        if both.shared.any()
    )
    return tuple(sorted(levels, key=lambda each: each.engine_order))


def _trims(
    pair: DrivePair,
    built: Sequence[BuiltBranch],
    sized_by: SizingRequest | None,
    kept: BuiltBranch | None,
    progress: Callable[[float], None],
) -> TrimAdvice:
    """Tell what to trim by all that is known: on the whole exhaust, or else by frequency alone."""
    baseline, postfix = pair.baseline, pair.postfix
    if pair.is_withheld or not built:
        return TrimAdvice()
    if sized_by is not None and not baseline.levels_only:
        on_exhaust = trims_on_exhaust(sized_by, baseline, postfix, built, progress, kept)
        if on_exhaust is not None:
            return on_exhaust
    return advise_trims(baseline, postfix, built, sized_by)


def _measured(band: DroneBand, pair: DrivePair) -> LevelChange:
    """Change of a band; no number where a drive gives no level to compare."""
    # worked out all the same: how much of the band both hold is told even then
    change = pair.change_in(band)
    if not pair.is_withheld:
        return change
    nothing = Interval(low=np.nan, high=np.nan)
    return replace(
        change,
        change_db=np.nan,
        ci95_db=nothing,
        smallest_change_db=np.nan,
        highest_change_db=np.nan,
        elsewhere_change_db=np.nan,
    )


def _judged(band: DroneBand, change: LevelChange, pair: DrivePair) -> BandChange:
    verdict, why = judge(band, change, pair)
    return BandChange(
        band=band,
        level_change_db=change.change_db,
        ci95_db=either_way(change, pair.suspected_gain).ci95_db,
        verdict=verdict,
        why=why,
        smallest_change_db=can_show_db(change, pair.suspected_gain),
        kept_alike=tuple(sorted(change.kept_alike)),
        highest_change_db=change.highest_change_db,
        elsewhere_change_db=change.elsewhere_change_db,
    )
