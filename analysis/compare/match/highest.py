"""By how much highest levels changed: what ``size`` foretells, as two drives show it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.cure import is_near
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.noise import seen_ms
from analysis.compare.match.side_by_side import side_by_side
from analysis.findings import OrderCurve

# judgement: neighbours that noise is evened out over, before the highest is taken; a drone spans
# seven bins and more. Two more move a highest level by 0.2 dB.
_SMOOTHED_BINS = 3


def highest_changes_db(
    before: OrderCurve | None,
    after: OrderCurve | None,
    peak_rpm: float,
    all_peaks_rpm: Sequence[float],
) -> tuple[float, float]:
    """Highest level after against before: near the drone, and near none of its order's drones.

    Only what both drives hold counts. What is buried in noise is taken to be as loud as could just
    be seen, so a deep cure comes out no deeper than the drives can show. NaN where they share
    nothing.
    """
    if before is None or after is None:
        return float("nan"), float("nan")
    laid = side_by_side(before, after)
    rpm = bin_centre_rpm(laid.bins)
    rest = ~np.any([is_near(rpm, each_rpm) for each_rpm in all_peaks_rpm], axis=0)
    # each drive its own highest: a branch splits a drone, so the two are at other engine speeds
    levels_ms = [seen_ms(before, laid.before), seen_ms(after, laid.after)]
    near_db, rest_db = (
        _highest_db(levels_ms[1], part) - _highest_db(levels_ms[0], part)
        for part in (laid.shared & is_near(rpm, peak_rpm), laid.shared & rest)
    )
    return near_db, rest_db


def _highest_db(level_ms: FloatArray, part: BoolArray) -> float:
    if not part.any():
        return float("nan")
    smooth_ms = uniform_filter1d(level_ms[part], _SMOOTHED_BINS, mode="nearest")
    return float(10.0 * np.log10(smooth_ms.max()))
