"""Score every pair of many single branches quickly, on a thinned bench.

It counts both branches as warm as the first, which is near enough to tell which pairs are worth a
closer look.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics.network import insertion_two
from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.bench import ExhaustBench, Outcome, Trials

# pairs, so that they stay in the processor's cache; judgement: memory against calls, moves no
# answer
_AT_ONCE = 24


def pair_scores_db(bench: ExhaustBench, singles: Trials) -> tuple[IntArray, IntArray, FloatArray]:
    """Score all pairs of ``singles``, which must rise in place.

    Returns
    -------
    upstream, downstream : int [shape=(n_pairs,)]
        Numbers of the singles.
    score_db : [shape=(n_pairs,)]
    """
    near, rest = np.flatnonzero(bench.near), np.flatnonzero(~bench.near)
    bench = bench.thinned(slice(None), np.concatenate([near, rest]))  # each in one stretch
    branches = bench.attached(singles, 0)
    inverse = (10.0 ** (-0.1 * bench.before_db)).astype(np.float32)
    of_near, of_rest = slice(None, near.size), slice(near.size, None)
    before_db = [_loudest_db(inverse[:, part]) for part in (of_near, of_rest)]
    ups, downs = np.triu_indices(singles.count)
    after_db = np.empty((2, ups.size, inverse.shape[0]))
    done = 0
    for index in range(singles.count):
        for first in range(index, singles.count, _AT_ONCE):
            others = slice(first, min(first + _AT_ONCE, singles.count))
            with_them = insertion_two(branches, index, branches, others)
            left = np.square(with_them.real)
            left += np.square(with_them.imag)
            left *= inverse
            rows = slice(done, done + left.shape[0])
            for row, part in enumerate((of_near, of_rest)):
                after_db[row, rows] = _loudest_db(left[..., part])
            done = rows.stop
    outcome = Outcome(drone_db=after_db[0] - before_db[0], elsewhere_db=after_db[1] - before_db[1])
    return ups, downs, outcome.score_db


def _loudest_db(inverse: NDArray[np.float32]) -> FloatArray:
    """Highest level of what is given as one over power."""
    if inverse.shape[-1] == 0:
        return np.full(inverse.shape[:-1], -np.inf)
    return np.asarray(-10.0 * np.log10(inverse.min(axis=-1)), dtype=np.float64)
