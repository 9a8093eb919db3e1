"""A drive with sound, taken as if only its overall level had been logged.

So an old session of levels can be compared with a new one of sound: both by the overall level in
the weighting of the old one. That needs an absolute scale, and it says less: what a drone makes of
the overall level may be little (:func:`could_fall_db`).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.shared_terms import louder
from analysis.errors import DriveError
from analysis.find.curves.pass_table import bins_within, table_of_passes
from analysis.find.sound.weighting import a_weighting_db, c_weighting_db
from analysis.findings import DroneBand, Findings, OrderCurve, OverallPasses, Weighting
from analysis.words.quantities import SPL

_WEIGHTING_OF = {"dB": Weighting.Z, "dB(C)": Weighting.C, "dB(A)": Weighting.A}
_GAINS_DB: dict[Weighting, Callable[[FloatArray], FloatArray]] = {
    Weighting.Z: np.zeros_like,
    Weighting.C: c_weighting_db,
    Weighting.A: a_weighting_db,
}
_HALF_POWER_DB = 1.5  # by this a band's mean level is below its peak; judgement: half of 3 dB


def of_one_kind(baseline: Findings, postfix: Findings) -> tuple[Findings, Findings]:
    """Take the sound of one drive as levels where the other has nothing else.

    Raises
    ------
    DriveError
        The sound is on no absolute scale.
    """
    if baseline.levels_only == postfix.levels_only:
        return baseline, postfix
    orders = {band.engine_order for band in (*baseline.bands, *postfix.bands)}
    if baseline.levels_only:
        postfix = _as_levels(postfix, baseline)
    else:
        baseline = _as_levels(baseline, postfix)
    return _for_every_order(baseline, orders), _for_every_order(postfix, orders)


def could_fall_db(baseline: Findings, band: DroneBand, weighting: Weighting) -> float:
    """How far the overall level over a band would fall if its drone ended; negative.

    ``baseline`` is as it was found: of sound the order's share is known, of levels the rise.
    """
    if baseline.levels_only:
        return _HALF_POWER_DB - band.rise_db
    order = baseline.curve(band.engine_order)
    overall = _overall_of(baseline, weighting)
    if order is None or overall is None:
        return 0.0
    bins = bins_within(band.low_rpm, band.high_rpm)
    hz = band.engine_order * bin_centre_rpm(bins) / 60.0
    order_ms = table_of_passes(order, bins).curve_ms * 10.0 ** (0.1 * _GAINS_DB[weighting](hz))
    overall_ms = table_of_passes(overall, bins).curve_ms
    held = np.isfinite(order_ms) & np.isfinite(overall_ms)
    if not held.any():
        return 0.0
    # an order that is all of the level would fall without end
    share = float(np.clip(order_ms[held].sum() / overall_ms[held].sum(), 0.0, 1.0 - 1e-6))
    return 10.0 * float(np.log10(1.0 - share))


def weighting_of(findings: Findings) -> Weighting | None:
    """Weighting of a drive that holds only levels; None for one with sound."""
    return _WEIGHTING_OF[findings.level_unit] if findings.levels_only else None


def _as_levels(sound: Findings, levels: Findings) -> Findings:
    if sound.level_unit != SPL:
        raise DriveError(
            f"{levels.drive_name} holds only levels in {levels.level_unit} and "
            f"{sound.drive_name} holds sound that is not calibrated, so their levels do not mean "
            "the same; record or import the sound with --calibration, or compare two drives of "
            "one kind"
        )
    weighting = weighting_of(levels)
    overall = None if weighting is None else _overall_of(sound, weighting)
    if overall is None:
        raise DriveError(
            f"{sound.drive_name} gives no overall level that compares with {levels.drive_name}"
        )
    # on a scale of 0 dB, as logged levels are: their numbers are the sound pressure level
    overall = louder(overall, sound.full_scale_db)
    return replace(
        sound,
        bands=tuple(replace(band, level_db=_level_at(overall, band)) for band in sound.bands),
        curves=(_standing_for(levels.curves[0].engine_order, overall),),
        overall_passes=(overall,),
        level_map=None,
        order_map=None,
        level_unit=levels.level_unit,
        full_scale_db=0.0,
        levels_only=True,
    )


def _for_every_order(levels: Findings, orders: set[float]) -> Findings:
    """Let a drive's one curve stand for each of these orders."""
    one = levels.curves[0]
    return replace(
        levels, curves=tuple(replace(one, engine_order=order) for order in sorted(orders))
    )


def _overall_of(findings: Findings, weighting: Weighting) -> OverallPasses | None:
    return next((c for c in findings.overall_passes if c.weighting is weighting), None)


def _level_at(overall: OverallPasses, band: DroneBand) -> float:
    bins = bins_within(band.low_rpm, band.high_rpm)
    level_ms = table_of_passes(overall, bins).curve_ms
    known = level_ms[np.isfinite(level_ms)]
    return 10.0 * float(np.log10(known.max())) if known.size else band.level_db


def _standing_for(order: float, overall: OverallPasses) -> OrderCurve:
    unknown = np.full(overall.rpm.size, np.nan)
    return OrderCurve(
        engine_order=order, trend_db=unknown, fitted_db=unknown, **overall.pass_columns()
    )
