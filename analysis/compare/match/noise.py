"""How far noise alone makes an order's level stray within one pass.

A point of an order's curve is the mean of a few frames of |tone + noise|^2. Its variance is
(2 S N + N^2) / n for a tone of mean square S in noise of mean square N over n independent frames
(Rice, Bell Syst. Tech. J. 23 (1944) 282, from memory); taking the background off adds N^2 / n.
How many frames are independent need not be known: the background was measured through the same
windows, so its own scatter along the curve, 1 / n of its square, tells. A resonance bends the
order's curve, but hardly its background's, so this holds for the narrowest band and for one pass.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.find.curves.pass_table import PassTable, table_of_passes
from analysis.findings import PassCurve

# judgement: neighbouring bins share a window, blocks of bins hardly do; one bin more moves an
# interval by 0.09 dB.
_BLOCK_BINS = 3
_ENOUGH_DIFFERENCES = 8
_MEDIAN_OF_CHI_SQUARE = 0.4549  # of one degree of freedom, by definition


def variance_of_passes(curve: PassCurve, table: PassTable) -> FloatArray:
    """Variance of each pass's net mean square over the band [shape=(n_passes,)].

    Parameters
    ----------
    curve : the level over the whole drive, from which the scatter is read
    table : the level over the band
    """
    held = table.seconds > 0.0
    of_points = _variance_of_a_second(curve, table) / np.where(held, table.seconds, np.inf)
    total = np.where(held, of_points, 0.0).sum(axis=1)
    return np.asarray(total / held.sum(axis=1) ** 2)


def variance_of_bins(curve: PassCurve, table: PassTable) -> FloatArray:
    """Variance of the curve over all passes in each bin [shape=(n_bins,)]; NaN where none is held.

    Parameters
    ----------
    curve, table : as for :func:`variance_of_passes`
    """
    used = table.weight > 0.0
    squares = np.where(used, table.weight**2 / np.where(used, table.seconds, 1.0), 0.0).sum(axis=0)
    share = squares / _positive(table.weight.sum(axis=0)) ** 2
    return np.asarray(_variance_of_a_second(curve, table) * share)


def seen_ms(curve: PassCurve, table: PassTable) -> FloatArray:
    """Curve over all passes in each bin [shape=(n_bins,)]; NaN where none is held.

    What is buried in noise is taken to be as loud as could just be seen.
    """
    least_ms = np.sqrt(variance_of_bins(curve, table)) + np.finfo(float).tiny
    return np.asarray(np.maximum(table.curve_ms, least_ms))


def _variance_of_a_second(curve: PassCurve, table: PassTable) -> FloatArray:
    tone = np.maximum(table.curve_ms, 0.0)
    noise = np.maximum(table.background_curve_ms, 0.0)
    return np.asarray((2.0 * tone * noise + 2.0 * noise**2) * _seconds_of_a_frame(curve))


def _seconds_of_a_frame(curve: PassCurve) -> float:
    """Seconds for one independent look at the noise, from the background's scatter.

    Second differences of neighbouring blocks of bins take out any slope in decibels; their
    median, any corner.
    """
    if not np.any(curve.background_ms > 0.0):
        return 0.0
    bins = np.arange(curve.bin_index.min(), curve.bin_index.max() + 1, dtype=np.int64)
    table = table_of_passes(curve, bins)
    blocks = bins.size // _BLOCK_BINS
    shape = (table.seconds.shape[0], blocks, _BLOCK_BINS)
    cut = slice(blocks * _BLOCK_BINS)
    seconds = table.seconds[:, cut].reshape(shape).sum(axis=2)
    background = table.background_ms[:, cut].reshape(shape).mean(axis=2)
    level = np.log(np.where(background > 0.0, background, np.nan))
    difference = np.diff(level, n=2, axis=1)
    # a second difference holds 1 + 4 + 1 times the variance of one block
    dwell = 6.0 / (
        1.0 / _positive(seconds[:, :-2])
        + 4.0 / _positive(seconds[:, 1:-1])
        + 1.0 / _positive(seconds[:, 2:])
    )
    looks = (difference**2 / 6.0 * dwell)[np.isfinite(difference) & np.isfinite(dwell)]
    # too short to tell: then each point counts as one look
    if looks.size < _ENOUGH_DIFFERENCES:
        return float(np.median(curve.seconds))
    return float(np.median(looks)) / _MEDIAN_OF_CHI_SQUARE


def _positive(seconds: FloatArray) -> FloatArray:
    return np.where(seconds > 0.0, seconds, np.nan)
