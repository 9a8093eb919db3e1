"""By how much a drone's highest level changed: what ``size`` foretells, as two drives show it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.basics.cure import is_near
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.noise import seen_ms
from analysis.compare.match.side_by_side import side_by_side
from analysis.findings import OrderCurve

# judgement: neighbours that noise is evened out over, before the highest is taken; a drone spans
# seven bins and more. Two more move a highest level by 0.2 dB.
_SMOOTHED_BINS = 3


def highest_change_db(
    before: OrderCurve | None, after: OrderCurve | None, peak_rpm: float
) -> float:
    """Highest level after against before, over the engine speeds that count as the drone's.

    Only what both drives hold counts. What is buried in noise is taken to be as loud as could just
    be seen, so a deep cure comes out no deeper than the drives can show. NaN where they share
    nothing.
    """
    if before is None or after is None:
        return float("nan")
    laid = side_by_side(before, after)
    near = laid.shared & is_near(bin_centre_rpm(laid.bins), peak_rpm)
    if not near.any():
        return float("nan")
    # each drive its own highest: a branch splits a drone, so the two are at other engine speeds
    loudest = [
        uniform_filter1d(seen_ms(curve, table)[near], _SMOOTHED_BINS, mode="nearest").max()
        for curve, table in ((before, laid.before), (after, laid.after))
    ]
    return float(10.0 * np.log10(loudest[1] / loudest[0]))
