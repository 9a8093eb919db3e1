"""Choose places and lengths of one or two branches by the worst credible outcome.

Every place and length is tried alone on all guesses at the exhaust; pairs on a thinned bench, where
all that matters is which are worth a closer look; then the best few at each of the best spots are
walked downhill on the whole bench, place by place and a few per cent of length at a time.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.branches import Can
from analysis.exhaust.bench import NetworkBench, Outcome, Trials
from analysis.size.pairs import pair_scores_db
from analysis.size.ties import alike

# judgement: how finely places and lengths are searched. A finer search costs time.
_SINGLE_LENGTHS, _PAIR_LENGTHS = 24, 12
_PAIR_PLACES = 24
_THIN_MEMBERS, _THIN_FREQUENCIES = 4, 2
_STARTS = 16  # at the best spot, and half as many at each next one
_SPOTS = 3
_SPOT_M = 0.30  # judgement: nearer than this it is the same place to a builder; moves no answer
_STEPS = ((4, 0.06), (2, 0.03), (1, 0.015), (1, 0.0075))  # places, share of length
_WALKS = 4  # with each step
_APART_M = 0.10  # judgement: nearer than this two branches cannot be welded


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Branches at one spot of the exhaust, and what they do in every guess at it."""

    trials: Trials  # one row
    outcome: Outcome

    @property
    def score_db(self) -> float:
        """Softened worst case, lower is better."""
        return float(self.outcome.score_db[0])

    @property
    def cured_share(self) -> float:
        """Share of the credible cases that they cure."""
        return float(self.outcome.cured_share[0])

    @property
    def count(self) -> int:
        """Number of branches."""
        return int(self.trials.place.shape[1])


def best_single(
    bench: NetworkBench,
    allowed: IntArray,
    lengths_m: tuple[float, float],
    bore_m: float,
    can: Can | None = None,
) -> list[Chosen]:
    """Give the best one branch at ``allowed`` places, then those that are as good elsewhere."""
    place, length = _crossed(allowed, np.geomspace(*lengths_m, _SINGLE_LENGTHS))
    trials = Trials(place=place[:, None], length_m=length[:, None], bore_m=bore_m, can=can)
    return _as_good(bench, _spots(bench, trials, _scores_db(bench, trials)), allowed, lengths_m)


def best_pair(
    bench: NetworkBench,
    allowed: IntArray,
    lengths_m: tuple[float, float],
    bore_m: float,
    can: Can | None = None,
) -> list[Chosen]:
    """Give the best two branches at ``allowed`` places, then those that are as good elsewhere."""
    thin = bench.thinned(slice(None, None, _THIN_MEMBERS), slice(None, None, _THIN_FREQUENCIES))
    some = allowed[np.unique(np.linspace(0, allowed.size - 1, _PAIR_PLACES).astype(np.int64))]
    place, length = _crossed(some, np.geomspace(*lengths_m, _PAIR_LENGTHS))
    singles = Trials(place=place[:, None], length_m=length[:, None], bore_m=bore_m, can=can)
    first, second, score_db = pair_scores_db(thin, singles)
    apart_m = bench.position_m[place[second]] - bench.position_m[place[first]]
    wide = np.flatnonzero(apart_m >= _APART_M)
    pair = np.stack([first[wide], second[wide]], axis=1)
    pairs = replace(singles, place=place[pair], length_m=length[pair])
    return _as_good(bench, _spots(bench, pairs, score_db[wide]), allowed, lengths_m)


def _spots(bench: NetworkBench, trials: Trials, score_db: FloatArray) -> list[Trials]:
    """Pick starts at the few best spots, so that one spot does not hide another."""
    left, spots = np.argsort(score_db), []
    for rank in range(_SPOTS):
        if left.size == 0:
            break
        here = _away_m(bench, trials[left], trials[left[:1]]) < _SPOT_M
        spots.append(trials[left[here][: _STARTS // 2**rank]])
        left = left[~here]
    return spots


def _as_good(
    bench: NetworkBench, spots: list[Trials], allowed: IntArray, lengths_m: tuple[float, float]
) -> list[Chosen]:
    apart: list[Chosen] = []
    walked = (downhill(bench, starts, allowed, lengths_m) for starts in spots)
    for each in sorted(walked, key=lambda chosen: chosen.score_db):
        if all(_away_m(bench, each.trials, one.trials)[0] >= _SPOT_M for one in apart):
            apart.append(each)
    return alike(apart)


def _away_m(bench: NetworkBench, trials: Trials, one: Trials) -> FloatArray:
    """How far the farther branch of each trial is from where it is in ``one``."""
    away_m = np.abs(bench.position_m[trials.place] - bench.position_m[one.place])
    return np.asarray(away_m.max(axis=1))


def _crossed(places: IntArray, lengths_m: FloatArray) -> tuple[IntArray, FloatArray]:
    return np.repeat(places, lengths_m.size), np.tile(lengths_m, places.size)


def _scores_db(bench: NetworkBench, trials: Trials) -> FloatArray:
    """Scores; infinite where two branches stand too near each other."""
    position_m = bench.position_m[trials.place]
    apart_m = position_m[:, -1] - position_m[:, 0]
    wrong = (trials.place.shape[1] == 2) & (apart_m < _APART_M)
    return np.where(wrong, np.inf, bench.outcome(trials).score_db)


def downhill(
    bench: NetworkBench, starts: Trials, allowed: IntArray, lengths_m: tuple[float, float]
) -> Chosen:
    """Walk every start to its lowest neighbour, with ever smaller steps; give the best.

    The longer steps are taken by every other guess, which are enough to tell up from down.
    """
    now = starts
    some = bench.thinned(slice(None, None, 2), slice(None))
    for places, share in _STEPS:
        on = some if places > 1 else bench
        score = _scores_db(on, now)
        for _ in range(_WALKS):
            around = _neighbours(now, allowed, lengths_m, places, share)
            many = around.place.shape[0] // now.count
            scores = _scores_db(on, around).reshape(now.count, many)
            best = scores.argmin(axis=1)
            lower = scores[np.arange(now.count), best] < score
            if not lower.any():
                break
            rows = np.arange(now.count) * many + best
            now = replace(
                now,
                place=np.where(lower[:, None], around.place[rows], now.place),
                length_m=np.where(lower[:, None], around.length_m[rows], now.length_m),
            )
            score = np.where(lower, scores[np.arange(now.count), best], score)
        keep = np.argsort(score)[: max(now.count // 2, 3)]
        now, score = now[keep], score[keep]
    best = now[np.array([score.argmin()])]
    return Chosen(trials=best, outcome=bench.outcome(best))


def _neighbours(
    trials: Trials, allowed: IntArray, lengths_m: tuple[float, float], places: int, share: float
) -> Trials:
    """Each trial with one of its numbers moved up or down, trial by trial."""
    index = np.searchsorted(allowed, trials.place)
    moves = []
    for branch in range(trials.place.shape[1]):
        for way in (-1, 1):
            moved = index.copy()
            moved[:, branch] = np.clip(moved[:, branch] + way * places, 0, allowed.size - 1)
            moves.append((moved, trials.length_m))
            longer = trials.length_m.copy()
            longer[:, branch] = np.clip(longer[:, branch] * (1.0 + way * share), *lengths_m)
            moves.append((index, longer))
    place = allowed[np.stack([move[0] for move in moves], axis=1)]
    length = np.stack([move[1] for move in moves], axis=1)
    place, length = place.reshape(-1, place.shape[-1]), length.reshape(-1, length.shape[-1])
    order = np.argsort(place, axis=1, kind="stable")
    return replace(
        trials,
        place=np.take_along_axis(place, order, axis=1),
        length_m=np.take_along_axis(length, order, axis=1),
    )
