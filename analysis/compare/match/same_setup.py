"""Were both drives recorded alike? What did not change tells about gain and microphone place.

Orders at frequencies away from every band are left alone by a branch, more or less: in generated
exhausts with branches welded on, echoes and all, single orders moved by up to 14 dB, but their
median in a car seldom by more than their disagreement allows for (``tests/benchmarks/same_gain``).
So a shift on which the orders agree is a change of gain or place: it is taken off the second drive,
and what they disagree is its uncertainty. If they do not agree, or if only the noise between the
orders shifted, which wind and road do too, nothing is taken off, the interval takes in both
readings, and the lesser claim stands.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE
from analysis.basics.levels import level_db
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.side_by_side import shared_curves, side_by_side
from analysis.find.curves.pass_table import PassTable
from analysis.findings import DroneBand, Findings
from analysis.verdicts import GainChange

# judgement: wind and road, and orders away from the branch's tuning, differ by less than this from
# day to day; more is told as a changed gain or place. 20 % more moved nothing.
BACKGROUND_TOLERANCE_DB = 3.0
REFERENCE_TOLERANCE_DB = 2.0
_REFERENCE_ORDERS = 2
# Standard deviation between such orders, and how many degrees of freedom that is worth beside what
# the drives show: so chosen that in about 95 of 100 exhausts of tests/benchmarks/same_gain nothing
# seems changed.
_REFERENCE_SPREAD_DB, _REFERENCE_TRUST = 1.5, 4.0
_REFERENCE_BINS = 10  # judgement: fewer bins tell no level; 20 % more moved nothing
# A closed branch works around its tuning and around three times it; outside these ratios to a
# band's frequency only echoes change an order. judgement: 20 % more moved nothing.
_TOUCHED_RATIOS = ((0.7, 1.4), (2.4, 3.6))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupChange:
    """What changed between the drives that no exhaust work should change; NaN where not known.

    Attributes
    ----------
    background_db : noise between the orders, after against before: gain, place, wind and road
    reference_db : orders at frequencies away from every band: gain and place
    reference_sd_db : standard uncertainty of that as the change of an order that was not among them
    overall_db : of drives that hold only levels, the level, if it changed by as much at engine
        speeds away from every band as within: gain, place, wind and road
    """

    background_db: float
    reference_db: float
    reference_sd_db: float = float("nan")
    overall_db: float = float("nan")

    @property
    def gain(self) -> GainChange | None:
        """Change of gain or place that the drives seem to hold; None where they seem alike."""
        if np.isfinite(self.reference_db):
            agreed = abs(self.reference_db) > SURE * self.reference_sd_db
            if not agreed and abs(self.reference_db) <= REFERENCE_TOLERANCE_DB:
                return None
            return GainChange(
                gain_db=self.reference_db, sd_db=self.reference_sd_db, is_taken_off=agreed
            )
        # road and wind may have changed instead; without a reference that cannot be ruled out
        for shift_db in (self.overall_db, self.background_db):
            if abs(shift_db) > BACKGROUND_TOLERANCE_DB:
                sd_db = BACKGROUND_TOLERANCE_DB / SURE
                return GainChange(gain_db=shift_db, sd_db=sd_db, is_taken_off=False)
        return None


def setup_change(baseline: Findings, postfix: Findings) -> SetupChange:
    """Compare background and far-off orders over what both drives hold alike."""
    if baseline.levels_only:
        overall_db = _alike_everywhere_db(baseline, postfix)
        return SetupChange(background_db=np.nan, reference_db=np.nan, overall_db=overall_db)
    bands_hz = _ranges_hz(baseline.bands + postfix.bands)
    background: list[FloatArray] = []
    reference: list[float] = []
    for before, after in shared_curves(baseline, postfix):
        laid = side_by_side(before, after)
        first, second = laid.before, laid.after
        noise_before, noise_after = first.background_curve_ms, second.background_curve_ms
        background.append(level_db(noise_after) - level_db(noise_before))
        clear = _clear(first) & _clear(second)
        hz = before.engine_order * bin_centre_rpm(first.bin_index) / 60.0
        # clear in both: near its background an order changes with the wind, not with the gain
        change = level_db(second.curve_ms) - level_db(first.curve_ms)
        change = change[clear & ~touched(hz, bands_hz)]
        if change.size >= _REFERENCE_BINS:
            reference.append(float(np.median(change)))
    noise = np.concatenate(background) if background else np.empty(0)
    noise = noise[np.isfinite(noise)]
    reference_db, reference_sd_db = common_change(np.asarray(reference))
    return SetupChange(
        background_db=float(np.median(noise)) if noise.size else np.nan,
        reference_db=reference_db,
        reference_sd_db=reference_sd_db,
    )


def common_change(reference_db: FloatArray) -> tuple[float, float]:
    """Give the change that orders have in common, and its standard uncertainty; NaN for too few.

    The uncertainty is that of the change of one more order. A branch may well work on one of the
    orders, so centre and spread are medians.

    Parameters
    ----------
    reference_db : FloatArray
        Change of each order at frequencies that no band touches [shape=(n_orders,)].
    """
    count = reference_db.size
    if count < _REFERENCE_ORDERS:
        return float("nan"), float("nan")
    away_db = np.abs(reference_db - np.median(reference_db))
    # a branch works on one of the orders; the median does not see it
    seen_db2 = float(np.median(away_db) / ndtri(0.75)) ** 2  # as of a normal distribution
    assumed = _REFERENCE_TRUST * _REFERENCE_SPREAD_DB**2
    # usual scatter and seen scatter, each as heavy as its degrees of freedom
    variance = (assumed + (count - 1) * seen_db2) / (_REFERENCE_TRUST + count - 1)
    return float(np.median(reference_db)), float(np.sqrt(variance * (1.0 + 1.0 / count)))


def touched(hz: FloatArray, bands_hz: list[tuple[float, float]]) -> NDArray[np.bool_]:
    """Tell at which frequencies a branch against any of the bands changes an order by design."""
    is_touched = np.zeros(hz.shape, dtype=np.bool_)
    for low_hz, high_hz in bands_hz:
        for low_ratio, high_ratio in _TOUCHED_RATIOS:
            is_touched |= (hz > low_ratio * low_hz) & (hz < high_ratio * high_hz)
    return is_touched


def _alike_everywhere_db(baseline: Findings, postfix: Findings) -> float:
    """How far the one level of both drives changed, if in and beside the bands alike; else NaN.

    An exhaust part changes a band far more than what lies well beside it.
    """
    band = next(iter(baseline.bands), None)
    after = None if band is None else postfix.curve(band.engine_order)
    before = None if band is None else baseline.curve(band.engine_order)
    if band is None or before is None or after is None:
        return float("nan")
    laid = side_by_side(before, after)
    change_db = level_db(laid.after.curve_ms) - level_db(laid.before.curve_ms)
    rpm = bin_centre_rpm(laid.bins)
    known = np.isfinite(change_db)
    inside = known & (rpm > band.low_rpm) & (rpm < band.high_rpm)
    beside = known & ~touched(band.engine_order * rpm / 60.0, _ranges_hz(baseline.bands))
    if not inside.any() or np.count_nonzero(beside) < _REFERENCE_BINS:
        return float("nan")
    inside_db, beside_db = float(np.median(change_db[inside])), float(np.median(change_db[beside]))
    return beside_db if abs(inside_db - beside_db) < REFERENCE_TOLERANCE_DB else float("nan")


def _clear(table: PassTable) -> NDArray[np.bool_]:
    """Bins in which the order stands above its background."""
    net = np.nan_to_num(table.curve_ms, nan=0.0)
    return np.asarray((net > 0.0) & (net > np.nan_to_num(table.background_curve_ms, nan=0.0)))


def _ranges_hz(bands: tuple[DroneBand, ...]) -> list[tuple[float, float]]:
    return [(band.low_hz, band.high_hz) for band in bands]
