"""Score every pair of many single branches on one pipe quickly, on a thinned bench.

Both branches are counted as warm as the first, and all that is heard as passing both of them, as it
does in a pipe that nothing leaves, and of which all comes from the outlets; of two pipes alike one
stands for both. That is near enough to
tell which pairs are worth a closer look. A pair's flow without over with is then ``a_1 a_2 - b_1
c_2``: ``a = 1 + Y g`` of each alone, ``b = Y f^2`` of the one upstream, with ``f`` what is heard of
a flow put in there, and ``c = Y o^2`` of the one downstream, with ``o`` the pressure there over
what is heard. Its power is a sum of four products, one for each of four numbers of each branch.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.acoustics.network import power
from analysis.acoustics.two_port import AnyComplexArray
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.bench.trier import Floats, Seat, Trier, least_along

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
    firsts, seconds = (_in_pairs(trier, singles, leans) for leans in (1, -1))
    # frequency and guess in front: then each is one small product of matrices
    firsts = np.ascontiguousarray(np.transpose(firsts * trier.weight, (3, 2, 0, 1)))
    seconds = np.ascontiguousarray(np.transpose(seconds, (3, 2, 1, 0)))
    score_db = np.empty((singles.count, singles.count))
    for start in range(0, singles.count, _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        least = [
            _least(firsts[:, few, some], seconds[:, few, :, start:], bench.parts)
            for few in (slice(at, at + _FEW) for at in range(0, bench.swept.size, _FEW))
        ]
        parts = [np.concatenate(part) for part in zip(*least, strict=True)]
        outcome = trier.outcome_of([part.reshape(bench.swept.size, -1).T for part in parts])
        score_db[some, start:] = outcome.score_db.reshape(parts[0].shape[1:])
    pairs = np.triu_indices(singles.count)
    return *pairs, score_db[pairs]


def own_scores_db(bench: ExhaustBench, singles: Trials) -> FloatArray:
    """Score each single as if all that is heard came by its pipe, [shape=(n,)]."""
    trier = Trier(bench, singles.bore_m, singles.can)
    lost = _in_pairs(trier, singles, 1)[:, 0] * trier.weight
    by_frequency = np.moveaxis(lost, -1, 0)
    return trier.outcome_of([least_along(by_frequency, part) for part in bench.parts]).score_db


def _in_pairs(trier: Trier, singles: Trials, leans: int) -> Floats:
    """Four numbers of each single, the first of two if it leans downstream, or else the second.

    [shape=(n, 4, n_members, n_frequency)]
    """
    four = []
    for station, length_m in zip(singles.place[:, 0], singles.length_m[:, 0], strict=True):
        place, *mirrored = trier.bench.stations.places[station]
        seat = Seat(place, leans)
        here, coupled = trier.link(seat), trier.between(seat, seat)
        for other in (Seat(twin, leans) for twin in mirrored):
            share = trier.link(other).before / here.before
            coupled = coupled + share * trier.between(seat, other)
        admittance = trier.admittance(0, int(station), 0, float(length_m))
        one_way = here.heard if leans > 0 else coupled / here.heard
        four.append(_four(1.0 + admittance * coupled, admittance * one_way**2, leans > 0))
    return np.array(four)


def _four(alone: AnyComplexArray, one_way: AnyComplexArray, is_first: bool) -> Floats:
    across = np.conj(one_way)
    product = alone * across
    four = np.empty((4, *product.shape), product.real.dtype)
    four[0], four[1] = power(alone), power(across)
    four[2], four[3] = product.real, product.imag
    if is_first:
        four[2] *= -2.0
        four[3] *= 2.0
    return four


def _least(firsts: Floats, seconds: Floats, parts: BoolArray) -> list[Floats]:
    """Least of what is lost in each of these parts, [shape=(n_members, n, n)]."""
    lost = firsts @ seconds
    # a sum that should cancel out may end below nothing, by a rounding
    least = np.finfo(lost.dtype).tiny
    return [np.maximum(least_along(lost, part), least) for part in parts]
