"""Score every pair of many single branches quickly, on a thinned bench.

It counts both branches as warm as the first, which is near enough to tell which pairs are worth a
closer look.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.exhaust.bench import ExhaustBench, Floats, Trials, Trier, least_along

# singles and guesses, so that their pairs stay in the processor's cache; judgement: memory against
# calls, moves no answer
_AT_ONCE, _FEW = 24, 4


def pair_scores_db(bench: ExhaustBench, singles: Trials) -> tuple[IntArray, IntArray, FloatArray]:
    """Score all pairs of ``singles``, which must rise in place.

    Returns
    -------
    upstream, downstream : int [shape=(n_pairs,)]
        Numbers of the singles.
    score_db : [shape=(n_pairs,)]
    """
    trier = Trier(bench, singles.bore_m, singles.can)
    firsts, seconds = trier.in_pairs(singles)
    # frequency and guess in front: then each is one small product of matrices
    firsts = np.ascontiguousarray(np.transpose(firsts * trier.weight, (3, 2, 0, 1)))
    seconds = np.ascontiguousarray(np.transpose(seconds, (3, 2, 1, 0)))
    score_db = np.empty((singles.count, singles.count))
    for start in range(0, singles.count, _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        least = [
            _least(firsts[:, few, some], seconds[:, few, :, start:], bench.near)
            for few in (slice(at, at + _FEW) for at in range(0, bench.swept.size, _FEW))
        ]
        near, rest = (np.concatenate(part) for part in zip(*least, strict=True))
        outcome = trier.outcome_of(*(part.reshape(bench.swept.size, -1).T for part in (near, rest)))
        score_db[some, start:] = outcome.score_db.reshape(near.shape[1:])
    pairs = np.triu_indices(singles.count)
    return *pairs, score_db[pairs]


def _least(firsts: Floats, seconds: Floats, near: BoolArray) -> tuple[Floats, Floats]:
    """Least of what is lost in the drone, and in the rest, [shape=(n_members, n, n)]."""
    lost = firsts @ seconds
    return least_along(lost, near), least_along(lost, ~near)
