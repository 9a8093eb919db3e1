"""Each order's level over frequency: all passes of the drive in one curve, at one loudness."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from itertools import compress

import numpy as np
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.basics.numbered import numbered
from analysis.find.bands.resonance_model import CurveData
from analysis.find.curves.order_points import OrderPoints

# judgement: what must be seen before an order is one
_LEAST_POINTS = 15
_LEAST_SHARE = 0.03  # of the loudest order's mean square, at the engine speed where it is most
_LEAST_CLEAR_POINTS = 7
_CLEAR_RATIO = 2.0  # total over background, averaged over neighbours, that shows the order
_CLEAR_BINS = 7
_SILENCE_MS = 1e-30
_MODEL_SIGMA_DB = 0.45  # cycle-to-cycle and pass-to-pass scatter that no averaging removes
# judgement: bins a pass must have before its own level is half believed. Passes differ by 6 dB and
# more (pulling, overrun), bins of one pass by 2: a short pass that is not believed leaves a step
# where it ends, which looks like a hill.
_OFFSET_SHRINK = 1.0
_OFFSET_ROUNDS = 50


def level_curve(points: OrderPoints) -> CurveData:
    """Put all passes of an order together, each brought to the level they have in common."""
    return _pooled(points, _pass_offsets_db(points))


def strong_orders(orders: Sequence[OrderPoints]) -> list[OrderPoints]:
    """Orders that stand clear of the noise and somewhere come near the loudest one."""
    if not orders or np.unique(orders[0].bin_index).size < _LEAST_POINTS:
        return []
    curves = [_pooled(points, None) for points in orders]
    net = np.stack([np.maximum(data.total_ms - data.background_ms, 0.0) for data in curves])
    # smoothed first, or the share of a soft order is that of its luckiest bin
    net = uniform_filter1d(net, _CLEAR_BINS, axis=1)
    share = (net / net.max(axis=0).clip(_SILENCE_MS)).max(axis=1)
    clear = np.array([np.count_nonzero(_clear(data)) for data in curves])
    share[clear < _LEAST_CLEAR_POINTS] = 0.0
    return list(compress(orders, share > _LEAST_SHARE))


def _clear(data: CurveData) -> BoolArray:
    """Bins in which total over noise, averaged with the neighbours, is above the least."""
    total = uniform_filter1d(data.total_ms / data.background_ms.clip(_SILENCE_MS), _CLEAR_BINS)
    return np.asarray(total > _CLEAR_RATIO)


def _pooled(points: OrderPoints, offset_db: FloatArray | None) -> CurveData:
    """All passes of each bin put together, each pass brought to the common level."""
    offset = 0.0 if offset_db is None else offset_db[points.pass_index]
    gain = 10.0 ** (-0.1 * offset) * np.ones(points.rpm.size)
    index, where, _ = numbered(points.bin_index)

    def pooled(values: FloatArray) -> FloatArray:
        return np.bincount(where, weights=values, minlength=index.size).astype(np.float64)

    # mean squares are averaged, not decibels: a mean of dB reads noise too low. A soft pass brings
    # its noise up with its level, so it counts for less
    counted = points.seconds / gain
    weight = pooled(counted)
    total = (pooled(points.seconds * points.total_ms) / weight).clip(_SILENCE_MS)
    background = pooled(points.seconds * points.background_ms) / weight
    seconds = pooled(points.seconds)
    rpm = pooled(points.seconds * points.rpm) / seconds
    # overlapping Hann windows tell something new about every 0.4 of their length
    independent = pooled(np.maximum(1.0, points.seconds / (0.4 * points.window_s)))
    noise = np.minimum(background / total, 1.0)
    # 4.34 is 10 / ln 10: relative scatter of the power, as dB
    noise_db = 4.34 * np.sqrt((2.0 * noise - noise**2) / independent)
    return CurveData(
        frequency_hz=points.engine_order * rpm / 60.0,
        total_ms=total,
        background_ms=background,
        sigma_db=np.hypot(_MODEL_SIGMA_DB, noise_db),
    )


def _pass_offsets_db(points: OrderPoints) -> FloatArray:
    """How much louder each pass is than the others where they overlap, shrunk for short passes.

    Level of pass and bin as a sum of both, by turns (least squares of two ways).
    """
    # elsewhere the level of a pass is that of the noise, which does not rise with the foot
    clear = points.total_ms > _CLEAR_RATIO * points.background_ms
    passes = int(points.pass_index.max()) + 1
    offset_db = np.zeros(passes)
    if not clear.any():
        return offset_db
    net = (points.total_ms - points.background_ms)[clear].clip(_SILENCE_MS)
    level_db = 10.0 * np.log10(net)
    number = points.pass_index[clear]
    _, where, count = numbered(points.bin_index[clear])
    held = np.bincount(number, minlength=passes)
    for _ in range(_OFFSET_ROUNDS):
        common_db = np.bincount(where, weights=level_db - offset_db[number]) / count
        excess_db = level_db - common_db[where]
        offset_db = np.bincount(number, weights=excess_db, minlength=passes) / (
            held + _OFFSET_SHRINK
        )
    return offset_db
