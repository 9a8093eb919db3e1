"""Score every pair of many single branches quickly, on a thinned bench.

With ``A = 1 + Y g_ii`` of each branch alone, and ``g_ij`` a product of what is upstream of i and
downstream of j, a pair's outlet flow without over with is ``A_i A_j - P_i Q_j``, where
``P = Y (from source)^2`` belongs to the upstream branch and ``Q = Y (to outlet)^2`` to the other.
It counts both branches as warm as the first, which is near enough to tell which pairs are worth a
closer look.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.bench import ExhaustBench, Outcome, Trials


def pair_scores_db(bench: ExhaustBench, singles: Trials) -> tuple[IntArray, IntArray, FloatArray]:
    """Score all pairs of ``singles``, which must rise in place.

    Returns
    -------
    upstream, downstream : int [shape=(n_pairs,)]
        Numbers of the singles.
    score_db : [shape=(n_pairs,)]
    """
    at = singles.place[:, 0]
    admittance = bench.admittance(singles, 0)
    alone = 1.0 + admittance * bench.places.transfer(at, at)
    upper = admittance * bench.places.from_source[at] ** 2
    lower = bench.places.to_outlet[at] ** 2 * admittance
    inverse = (10.0 ** (-0.1 * bench.before_db)).astype(np.float32)
    near, rest = np.flatnonzero(bench.near), np.flatnonzero(~bench.near)
    loudest = [_loudest_db(inverse[:, part]) for part in (near, rest)]
    scores, ups, downs = [], [], []
    for index in range(singles.count):
        with_it = alone[index] * alone[index:] - upper[index] * lower[index:]
        size = (with_it.real**2 + with_it.imag**2) * inverse
        outcome = Outcome(
            drone_db=_loudest_db(size[..., near]) - loudest[0],
            elsewhere_db=_loudest_db(size[..., rest]) - loudest[1],
        )
        scores.append(outcome.score_db)
        ups.append(np.full(singles.count - index, index))
        downs.append(np.arange(index, singles.count))
    return np.concatenate(ups), np.concatenate(downs), np.concatenate(scores)


def _loudest_db(inverse: NDArray[np.float32]) -> FloatArray:
    """Highest level of what is given as one over power."""
    if inverse.shape[-1] == 0:
        return np.full(inverse.shape[:-1], -np.inf)
    return np.asarray(-10.0 * np.log10(inverse.min(axis=-1)), dtype=np.float64)
