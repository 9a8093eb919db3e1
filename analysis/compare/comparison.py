"""Did it work? Two drives matched by rpm: level change, interval and verdict for each band."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.left_out import matching_of, unlike_doubts
from analysis.compare.match.level_change import (
    DAY_SPREAD_DB,
    ENOUGH_SHARED,
    OVERALL_DAY_SPREAD_DB,
    LevelChange,
    change_over,
)
from analysis.compare.match.levels_of_sound import could_fall_db, weighting_of
from analysis.compare.match.pair import DrivePair, drive_pair
from analysis.compare.match.same_setup import ENOUGH_PASSES, setup_doubts
from analysis.compare.match.side_by_side import side_by_side
from analysis.compare.overall_change import overall_before_after, part_changes
from analysis.compare.trim.advice import trim_advice
from analysis.compare.trim.by_frequency import BuiltBranch
from analysis.compare.verdict import MOVED_WITHIN_DB, Surroundings, can_show_db, either_way, judge
from analysis.compare.whistles import new_whistles
from analysis.find.curves.pass_table import bins_within
from analysis.findings import Doubt, DroneBand, Findings
from analysis.size.request import SizingRequest
from analysis.verdicts import BandChange, Comparison, OrderBeforeAfter
from analysis.words.sentences import listed

_NOTHING = Interval(low=float("nan"), high=float("nan"))


def compare_drives(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch] = (),
    *,
    sized_by: SizingRequest | None = None,
    progress: Callable[[float], None] | None = None,
) -> Comparison:
    """Compare a baseline drive with one after the work on the exhaust.

    Parameters
    ----------
    baseline, postfix : Findings
        In the same level unit; or one with sound on an absolute scale and one with levels only.
    built : sequence of BuiltBranch
        The branches that were welded on in between; without them nothing is said about trimming.
    sized_by : SizingRequest, optional
        What they were sized by; with the whole exhaust in it, trims are worked out on that.
    progress : callable, optional
        Told now and then which part of the work, 0 to 1, is done.

    Raises
    ------
    DriveError
        The levels of the two drives do not mean the same.
    """
    pair = drive_pair(baseline, postfix)
    baseline, postfix = pair.baseline, pair.postfix
    advice = trim_advice(baseline, postfix, built, sized_by, progress or (lambda _: None))
    measured = [_change_in(band, pair) for band in baseline.bands]
    if postfix.withheld:
        measured = [
            replace(change, change_db=np.nan, ci95_db=_NOTHING, smallest_change_db=np.nan)
            for change in measured
        ]
    changes = tuple(
        BandChange(
            band=band,
            level_change_db=change.change_db,
            ci95_db=either_way(change, pair.suspected_gain).ci95_db,
            verdict=verdict,
            why=why,
            smallest_change_db=can_show_db(change, pair.suspected_gain),
            kept_alike=tuple(sorted(change.kept_alike)),
        )
        for band, change in zip(baseline.bands, measured, strict=True)
        for verdict, why in [judge(change, _surroundings(band, pair))]
    )
    return Comparison(
        baseline_name=baseline.drive_name,
        postfix_name=postfix.drive_name,
        changes=changes,
        new_bands=() if pair.is_mixed else _new_bands(baseline, postfix),
        curves=_curves(baseline, postfix, with_a_band=True),
        other_curves=_curves(baseline, postfix, with_a_band=False),
        trims=advice.trims,
        trim_outlook=advice.outlook,
        warnings=(
            *_baseline_withheld(baseline),
            *_levels_doubts(pair),
            *setup_doubts(baseline, postfix, pair.setup),
            *unlike_doubts(baseline, postfix, measured),
            *_coverage_doubts(baseline, measured),
            *(() if pair.is_mixed else _not_driven_before(baseline, postfix)),
            *advice.doubts,
        ),
        whistles=() if postfix.withheld else new_whistles(baseline, postfix),
        overall=() if pair.is_withheld else overall_before_after(baseline, postfix),
        gain=pair.setup.gain,
        parts=()
        if pair.is_withheld
        else part_changes(baseline, postfix, gain_sd_db=pair.gain_sd_db),
        level_unit=baseline.level_unit,
        is_of_levels=baseline.levels_only,
        matching=matching_of(baseline, postfix),
    )


def _baseline_withheld(baseline: Findings) -> tuple[Doubt, ...]:
    if not baseline.withheld:
        return ()
    return (
        Doubt(
            code="baseline_withheld",
            message=(
                f"The baseline gives no result, because {baseline.withheld}, so there is nothing "
                "to compare with."
            ),
        ),
    )


def _levels_doubts(pair: DrivePair) -> tuple[Doubt, ...]:
    heard, postfix = pair.heard, pair.postfix
    if not postfix.levels_only:
        return ()
    if pair.is_mixed:
        levels, sound = (heard, postfix) if heard.levels_only else (postfix, heard)
        start = (
            f"{levels.drive_name} holds only overall levels in {postfix.level_unit}, so of the "
            f"sound of {sound.drive_name} only its overall level in {postfix.level_unit} was "
            "compared; what each order did, and whether a new drone appeared, cannot be said. "
        )
    else:
        start = "Both drives hold only overall levels; what each order did cannot be said. "
    return (
        Doubt(
            code="levels_only",
            message=f"{start}Other noise could not be taken off, so the drone itself changed at "
            "least as much as shown, if that noise was the same. Whether a change in one stretch "
            "is of the exhaust or of wind and road cannot be told, nor what to trim. Record sound "
            "both times.",
        ),
    )


def _new_bands(baseline: Findings, postfix: Findings) -> tuple[DroneBand, ...]:
    """Bands that the baseline would have shown: it drove there."""
    fresh = _not_in(baseline, postfix)
    return tuple(band for band in fresh if _drove_through(band, baseline))


def _not_driven_before(baseline: Findings, postfix: Findings) -> tuple[Doubt, ...]:
    fresh = _not_in(baseline, postfix)
    unseen = [band for band in fresh if not _drove_through(band, baseline)]
    if not unseen:
        return ()
    where = listed([f"order {band.engine_order:g} at {band.peak_rpm:,.0f} rpm" for band in unseen])
    return (
        Doubt(
            code="not_driven_before",
            message=f"The post-fix drive drones where the baseline did not drive ({where}): "
            "whether that is new cannot be said.",
        ),
    )


def _not_in(baseline: Findings, postfix: Findings) -> list[DroneBand]:
    return [band for band in postfix.bands if not _overlapping(band, baseline.bands)]


def _drove_through(band: DroneBand, findings: Findings) -> bool:
    curve = findings.curve(band.engine_order)
    if curve is None:
        return False
    held = np.isin(bins_within(band.low_rpm, band.high_rpm), curve.bin_index)
    return bool(held.mean() >= ENOUGH_SHARED)


def _surroundings(band: DroneBand, pair: DrivePair) -> Surroundings:
    postfix = pair.postfix
    weighting = weighting_of(postfix)
    return Surroundings(
        left=next((b for b in _same_order(band, postfix) if _peaks_within(b, band)), None),
        moved_to=_moved_to(band, pair),
        gain=pair.suspected_gain,
        withheld=postfix.withheld,
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
        and _may_have_risen(_change_in(other, pair))
    ]
    return max(candidates, key=lambda other: other.level_db, default=None)


def _may_have_risen(change: LevelChange) -> bool:
    """Tell a band that came up from one as loud before; where not known, believe the band."""
    return change.shared < ENOUGH_SHARED or change.ci95_db.low > 0.0


def _change_in(band: DroneBand, pair: DrivePair) -> LevelChange:
    before = pair.baseline.curve(band.engine_order)
    after = pair.postfix.curve(band.engine_order)
    day_spread_db = OVERALL_DAY_SPREAD_DB if pair.postfix.levels_only else DAY_SPREAD_DB
    between_db = math.hypot(day_spread_db, pair.gain_sd_db)
    return change_over(before, after, band.low_rpm, band.high_rpm, between_drives_db=between_db)


def _same_order(band: DroneBand, findings: Findings) -> list[DroneBand]:
    return [other for other in findings.bands if other.engine_order == band.engine_order]


def _peaks_within(inner: DroneBand, outer: DroneBand) -> bool:
    return outer.low_rpm <= inner.peak_rpm <= outer.high_rpm


def _overlapping(band: DroneBand, others: tuple[DroneBand, ...]) -> bool:
    return any(
        other.engine_order == band.engine_order
        and other.low_rpm <= band.high_rpm
        and band.low_rpm <= other.high_rpm
        for other in others
    )


def _curves(
    baseline: Findings, postfix: Findings, *, with_a_band: bool
) -> tuple[OrderBeforeAfter, ...]:
    """Orders of the bands of either drive, or all the others, lowest first."""
    of_bands = {band.engine_order for band in baseline.bands + postfix.bands}
    orders = sorted(
        curve.engine_order
        for curve in baseline.curves
        if (curve.engine_order in of_bands) is with_a_band
    )
    curves = (_before_after(order, baseline, postfix) for order in orders)
    return tuple(curve for curve in curves if curve is not None)


def _before_after(
    engine_order: float, baseline: Findings, postfix: Findings
) -> OrderBeforeAfter | None:
    before, after = baseline.curve(engine_order), postfix.curve(engine_order)
    if before is None or after is None:
        return None
    laid = side_by_side(before, after)
    shared = laid.shared
    if not shared.any():
        return None
    return OrderBeforeAfter(
        engine_order=engine_order,
        rpm=bin_centre_rpm(laid.bins[shared]),
        before_db=_level_db(laid.before.curve_ms[shared], baseline.full_scale_db),
        after_db=_level_db(laid.after.curve_ms[shared], postfix.full_scale_db),
    )


def _level_db(mean_square: FloatArray, full_scale_db: float) -> FloatArray:
    positive = np.where(mean_square > 0.0, mean_square, np.nan)
    return np.asarray(full_scale_db + 10.0 * np.log10(positive))


def _coverage_doubts(baseline: Findings, measured: list[LevelChange]) -> tuple[Doubt, ...]:
    if not baseline.bands:
        return (
            Doubt(
                code="no_baseline_drone",
                message=f"No drone was found in {baseline.drive_name}, so there is nothing to "
                "cure; check that the baseline drive swept through the noisy engine speed.",
            ),
        )
    met = [change for change in measured if change.shared > 0.0]
    before = min((c.passes_before for c in met), default=ENOUGH_PASSES)
    after = min((c.passes_after for c in met), default=ENOUGH_PASSES)
    if min(before, after) >= ENOUGH_PASSES:
        return ()
    return (
        Doubt(
            code="few_passes",
            message=f"{_passes(before)} through a band in the baseline, {_passes(after)} in the "
            f"post-fix drive: the interval leans on an assumed spread; {ENOUGH_PASSES} or more "
            "of each make it surer.",
        ),
    )


def _passes(count: int) -> str:
    return "one pass" if count == 1 else f"{count} passes"
