"""The noise between the high orders, and what of it engine speed explains.

Road, wind and gas make it, and their level over engine speed is smooth: what strays from that came
from elsewhere.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.levels import into_db
from analysis.find.sound.order_tracking import ORDERS, OrderFrames

# judgement: below, a drone's own skirts reach into the gaps between orders
_FIRST_ORDER = 6.0
_SILENCE_MS = 1e-30
_ALIKE = 1e-9  # judgement: terms that differ by less are one; squares of sizes, in double precision


def between_orders_db(frames: OrderFrames) -> FloatArray:
    """Mean level between the high orders [shape=(n_frames,)].

    Of decibels, since one strong line is no change of gain; gap by gap, since of a drive of hours
    there is no room for all at once.
    """
    gaps = np.flatnonzero(ORDERS >= _FIRST_ORDER)
    return np.asarray(sum(level_db(frames.background_ms[:, gap]) for gap in gaps) / gaps.size)


def smooth_terms(rpm: FloatArray) -> FloatArray:
    """Give what noise does with engine speed by itself, slowly [shape=(n_frames, n_terms)]."""
    speed = np.log(rpm)
    speed = (speed - speed.mean()) / max(float(speed.std()), 1e-6)
    square = speed * speed  # a power is many times slower
    return np.stack([np.ones(speed.size), speed, square, square * speed], axis=1)


def within_passes(values: FloatArray, pass_index: IntArray) -> FloatArray:
    """Values without the mean of each pass; ``values`` [shape=(n_frames, ...)].

    In another gear road and wind are others at the same engine speed, and so is the engine.
    """
    count = np.maximum(np.bincount(pass_index), 1)
    flat = values.reshape(values.shape[0], -1)
    out = np.empty_like(flat)
    for column in range(flat.shape[1]):
        mean = np.bincount(pass_index, weights=flat[:, column]) / count
        out[:, column] = flat[:, column] - mean[pass_index]
    return out.reshape(values.shape)


def explained(terms: FloatArray, values: FloatArray) -> FloatArray:
    """Give what the terms explain; ``terms`` [shape=(n_frames, n_terms)], some of them alike.

    By the normal equations: of a drive of hours there is no room for copies of the terms.
    """
    return np.asarray(terms @ solved(terms.T @ terms, terms.T @ values))


def solved(square: FloatArray, along: FloatArray) -> FloatArray:
    """Solve normal equations, of terms of which some may be alike."""
    return np.asarray(np.linalg.pinv(square, rcond=_ALIKE, hermitian=True) @ along)


def strayed(terms: FloatArray, values: FloatArray) -> FloatArray:
    """Give what the terms do not explain; ``values`` [shape=(n_frames, ...)]."""
    out = explained(terms, values)
    return np.subtract(values, out, out=out)


def level_db(mean_square: NDArray[np.floating]) -> FloatArray:
    """10 lg of a mean square, silence included."""
    return into_db(mean_square.astype(np.float64), _SILENCE_MS)
