"""Where the drone's order got louder beside the drone: told even when the drone is cured."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.cure import is_near
from analysis.compare.judgement import amount_is_sure, headline
from analysis.verdicts import Comparison, Louder, OrderBeforeAfter

# judgement: the first evens out single bins of 1 %; less than the second is what two days differ
# in; the last is what beside the old drone nobody hears. They choose what is said, and no verdict.
_BINS = 7
_LOUDER_DB = 2.0
_UNHEARD_DB = 20.0


def louder_elsewhere(comparison: Comparison) -> Louder | None:
    """Give the stretch beside the drone where its order rose the most, from ``_LOUDER_DB``.

    None without one, or where gain or microphone may have made it.
    """
    change = headline(comparison)
    if change is None or not amount_is_sure(comparison):
        return None
    order = change.band.engine_order
    curve = next((each for each in comparison.curves if each.engine_order == order), None)
    if curve is None or curve.rpm.size < _BINS:
        return None
    near = is_near(curve.rpm, change.band.peak_rpm)
    known = np.isfinite(curve.before_db) & np.isfinite(curve.after_db)
    if not (near & known).any():
        return None
    unknown_db = np.full(known.shape, -np.inf)
    rise_db = _even(np.subtract(curve.after_db, curve.before_db, out=unknown_db, where=known))
    peak_db = float(curve.before_db[near & known].max())
    heard = curve.after_db > peak_db - _UNHEARD_DB
    return _worst(curve, rise_db, (rise_db >= _LOUDER_DB) & heard & known & ~near, peak_db)


def _worst(
    curve: OrderBeforeAfter, rise_db: FloatArray, risen: BoolArray, peak_db: float
) -> Louder | None:
    """Widen from the highest rise as far as it stands."""
    if not risen.any():
        return None
    top = int(np.where(risen, rise_db, -np.inf).argmax())
    low = high = top
    while low > 0 and risen[low - 1]:
        low -= 1
    while high + 1 < risen.size and risen[high + 1]:
        high += 1
    return Louder(
        low_rpm=float(curve.rpm[low]),
        high_rpm=float(curve.rpm[high]),
        rise_db=float(rise_db[top]),
        under_db=peak_db - float(curve.after_db[low : high + 1].max()),
    )


def _even(rise_db: FloatArray) -> FloatArray:
    """Take a running median, so that no single bin speaks."""
    edge = _BINS // 2
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(rise_db, edge, mode="edge"), _BINS)
    return np.asarray(np.median(windows, axis=-1), dtype=np.float64)
