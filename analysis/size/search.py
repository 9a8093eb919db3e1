"""Choose places and lengths of one or two branches by the worst credible outcome.

Every place and length is tried alone on every other guess at the exhaust; pairs on a thinner bench,
where all that matters is which are worth a closer look; then the best few at each of the best spots
are walked downhill on the whole bench, place by place and a few per cent of length at a time. Where
there is more than one pipe, spots are looked for on each, and on each two of them.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

import numpy as np

from analysis.acoustics.end_correction import SAME_BORE_M
from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rows import joined
from analysis.bench.exhaust_bench import ExhaustBench, Trials, ratios
from analysis.bench.outcome import Outcome
from analysis.bench.trier import Trier
from analysis.branches import Can, Tube
from analysis.size.pairs import own_scores_db, pair_scores_db
from analysis.size.ties import alike

# judgement: how finely places and lengths are searched. A finer search costs time. 20 % more of
# _STEPS moves a length by 14 mm and the outlook by 0.25 dB, of _PAIR_LENGTHS by 2 mm and 0.1 dB, of
# the others nothing: so flat is a cure about its best.
_SINGLE_LENGTHS, _PAIR_LENGTHS = 24, 12
_PAIR_PLACES = 24
_THIN_MEMBERS, _THIN_FREQUENCIES = 4, 2
_STARTS = 8  # at the best spot, and half as many at each next one
_SPOTS = 3
# judgement: where there are several pipes: spots on each, or each two, of them; how much worse than
# the best start they may be before nobody looks there; lengths at each place of two pipes.
_SPOTS_OF_SEVERAL, _HOPELESS_DB, _OWN_LENGTHS = 2, 4.0, 2
WORTH_A_WELD_DB = 1.0  # judgement: of the score, what another branch to weld must bring
# judgement: nearer than this it is the same place to a builder; 20 % more: 2 mm, 0.07 dB
_SPOT_M = 0.30
# judgement: where there are several pipes: pairs on each two of them whose branches are moved in
# turn, and how often. More only cost time.
_TURNED_STARTS, _TURNS = 2, 4
_STEPS = ((4, 0.06), (2, 0.03), (1, 0.015), (1, 0.0075))  # places, share of length
_WALKS = 4  # with each step
# judgement: about the likeliest single branch: places to either side, share of length, lengths
_ABOUT, _ABOUT_STEPS = ((2, 0.05), (1, 0.015)), 7
SHORTEST_CAN_M = 0.10  # judgement: what is worth welding
APART_M = 0.10  # judgement: nearer than this two branches cannot be welded


_Scored: TypeAlias = tuple[Trials, FloatArray]  # and their scores, lower is better


class Way(NamedTuple):
    """One way to build: tube, or neck with a can at its end, and how many of them."""

    tube: Tube
    can: Can | None
    branches: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Where branches may go, how long they may be, and the bench they are tried on.

    ``allowed`` numbers stations of the bench; ``lengths_m`` is the shortest and longest branch.
    ``spread`` is how many times as wide their ratio is as for one drone.
    """

    bench: ExhaustBench
    allowed: IntArray
    lengths_m: tuple[float, float]
    spread: float = 1.0

    def lengths(self, count: int) -> FloatArray:
        """Lengths to try, even in ratio, as tuning is; ``count`` of them for one drone."""
        return np.geomspace(*self.lengths_m, round(self.spread * count))

    @property
    def pipe_bores_m(self) -> FloatArray:
        """Of the pipe at each allowed station."""
        return self.bench.pipe_bore_m[self.allowed]

    def kept_to(self, way: Way) -> Room:
        """Keep to pipe that is wide enough, and to lengths that leave something of a can."""
        # a rounding of inches must not shut out a tube as wide as its pipe
        wide = self.pipe_bores_m >= way.tube.inner_diameter_m - SAME_BORE_M
        shortest_m = self.lengths_m[0] if way.can is None else way.can.neck_m + SHORTEST_CAN_M
        return replace(self, allowed=self.allowed[wide], lengths_m=(shortest_m, self.lengths_m[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Branches at one spot of the exhaust, and what they do in every guess at it."""

    trials: Trials  # one row
    outcome: Outcome
    pipes: tuple[int, ...]  # how many pipes get each branch

    @property
    def welds(self) -> int:
        """How many branches there are to weld."""
        return sum(self.pipes)

    @property
    def tube_m(self) -> float:
        """How much tube they take."""
        return float(np.dot(self.trials.length_m[0], self.pipes))

    @property
    def score_db(self) -> float:
        """Softened worst case, lower is better."""
        return float(self.outcome.score_db[0])

    @property
    def cured_share(self) -> float:
        """Share of the credible cases that they cure."""
        return float(self.outcome.odds[0])

    @property
    def count(self) -> int:
        """Number of branches."""
        return int(self.trials.place.shape[1])


def best(room: Room, way: Way) -> list[Chosen]:
    """Give the best branches built this way, then those that are as good elsewhere."""
    room = room.kept_to(way)
    starts, score_db = (_single_starts if way.branches == 1 else _pair_starts)(room, way)
    pipes = room.bench.stations.pipe[starts.place]
    choices_of_pipes = np.unique(pipes, axis=0)
    spots, lowest_db = [], score_db.min()
    for chosen in choices_of_pipes:
        here = np.flatnonzero((pipes == chosen).all(axis=1))
        if len(choices_of_pipes) == 1 or score_db[here].min() < lowest_db + _HOPELESS_DB:
            most = _SPOTS if len(choices_of_pipes) == 1 else _SPOTS_OF_SEVERAL
            spots += _spots(room.bench, starts[here], score_db[here], most)
    return _as_good(room, spots)


def likeliest_single(room: Room, way: Way) -> Chosen:
    """Give the one branch that cures most of the cases, though its worst case may be worse."""
    room = room.kept_to(way)
    bore_m, can = way.tube.inner_diameter_m, way.can
    trier = Trier(room.bench, bore_m, can)
    tried = _crossed(room, way, room.allowed, _SINGLE_LENGTHS)
    likeliest = _likeliest(Trier(_half(room.bench), bore_m, can), tried)
    for reach, share in _ABOUT:
        at = int(np.searchsorted(room.allowed, likeliest.place[0, 0]))
        places = room.allowed[max(at - reach, 0) : at + reach + 1]
        about_m = likeliest.length_m[0, 0] * ratios(share, _ABOUT_STEPS)
        lengths_m = np.unique(about_m.clip(*room.lengths_m))
        likeliest = _likeliest(trier, Trials.singles(places, lengths_m, bore_m, can))
    return _chosen(trier, likeliest)


def _likeliest(trier: Trier, tried: Trials) -> Trials:
    return tried.row(int(trier.outcome(tried).soft_odds.argmax()))


def _chosen(trier: Trier, trial: Trials) -> Chosen:
    places_of = trier.bench.stations.places
    pipes = tuple(len(places_of[station]) for station in trial.place[0])
    return Chosen(trials=trial, outcome=trier.outcome(trial), pipes=pipes)


def _single_starts(room: Room, way: Way) -> _Scored:
    singles = _crossed(room, way, room.allowed, _SINGLE_LENGTHS)
    return singles, _half(room.bench).outcome(singles).score_db


def _pair_starts(room: Room, way: Way) -> _Scored:
    bench = room.bench
    thin = bench.thinned(slice(None, None, _THIN_MEMBERS), slice(None, None, _THIN_FREQUENCIES))
    # where branches do most does not hang on what passes them by; only how much it is does
    thin = replace(thin, other_way=np.zeros_like(thin.other_way))
    pipe = bench.stations.pipe[room.allowed]
    singles = [_on_one_pipe(room, way, room.allowed[pipe == each]) for each in np.unique(pipe)]
    lengths = room.lengths(_PAIR_LENGTHS).size
    found = [_along_one_pipe(thin, each) for each in singles]
    found += [_on_two_pipes(thin, *two, lengths) for two in itertools.combinations(singles, 2)]
    starts = _together(found)
    return starts if len(singles) == 1 else _together([starts, *_in_turn(thin, *starts, singles)])


def _together(found: Sequence[_Scored]) -> _Scored:
    trials, scores_db = zip(*found, strict=True)
    return functools.reduce(joined, trials), np.concatenate(scores_db)


def _in_turn(
    thin: ExhaustBench, starts: Trials, score_db: FloatArray, singles: list[Trials]
) -> Iterator[_Scored]:
    """Move one branch of a pair, then the other, to the best place of all on all pipes.

    A branch that is best alone is seldom best beside one on another pipe, where both are heard.
    """
    trier = Trier(thin, starts.bore_m, starts.can)
    everywhere = functools.reduce(joined, singles)
    pipes = thin.stations.pipe[starts.place]
    on_two = pipes[pipes[:, 0] != pipes[:, 1]]
    for two in np.unique(on_two, axis=0):
        here = np.flatnonzero((pipes == two).all(axis=1))
        for now in here[np.argsort(score_db[here])[:_TURNED_STARTS]]:
            yield _turned(trier, starts.row(now), float(score_db[now]), everywhere)


def _turned(trier: Trier, pair: Trials, lowest_db: float, everywhere: Trials) -> _Scored:
    for turn in range(_TURNS):
        stays = [turn % 2]
        alone = replace(pair, place=pair.place[:, stays], length_m=pair.length_m[:, stays])
        moved = alone.joined_by(everywhere)
        moved_db = _scores_db(trier, moved)
        best_now = int(moved_db.argmin())
        if moved_db[best_now] < lowest_db:
            pair, lowest_db = moved.row(best_now), float(moved_db[best_now])
    return pair, np.array([lowest_db])


def _on_one_pipe(room: Room, way: Way, stations: IntArray) -> Trials:
    last = stations.size - 1
    some = stations[np.unique(np.linspace(0, last, _PAIR_PLACES).astype(np.int64))]
    return _crossed(room, way, some, _PAIR_LENGTHS)


def _along_one_pipe(thin: ExhaustBench, singles: Trials) -> _Scored:
    """All pairs of these that can be welded."""
    first, second, score_db = pair_scores_db(thin, singles)
    place, length_m = singles.place[:, 0], singles.length_m[:, 0]
    wide = np.flatnonzero(thin.apart_m(place[first], place[second]) >= APART_M)
    pair = np.stack([first[wide], second[wide]], axis=1)
    return replace(singles, place=place[pair], length_m=length_m[pair]), score_db[wide]


def _on_two_pipes(thin: ExhaustBench, ones: Trials, others: Trials, lengths: int) -> _Scored:
    """Cross the lengths that do best by their own pipe, at each place."""
    first, second = (each[_best_at_each(thin, each, lengths)] for each in (ones, others))
    pairs = first.joined_by(second)
    return pairs, thin.outcome(pairs).score_db


def _best_at_each(thin: ExhaustBench, singles: Trials, lengths: int) -> IntArray:
    score_db = own_scores_db(thin, singles).reshape(-1, lengths)
    best = np.argsort(score_db, axis=1)[:, :_OWN_LENGTHS]
    return np.asarray((np.arange(len(best))[:, None] * lengths + best).ravel())


def _spots(bench: ExhaustBench, trials: Trials, score_db: FloatArray, most: int) -> list[Trials]:
    """Pick starts at the few best spots, so that one spot does not hide another."""
    left, spots = np.argsort(score_db), []
    for rank in range(most):
        if left.size == 0:
            break
        here = _away_m(bench, trials[left], trials[left[:1]]) < _SPOT_M
        spots.append(trials[left[here][: _STARTS // 2**rank]])
        left = left[~here]
    return spots


def _as_good(room: Room, spots: list[Trials]) -> list[Chosen]:
    apart: list[Chosen] = []
    walked = downhill(room, *spots)
    for each in sorted(walked, key=lambda chosen: chosen.score_db):
        if all(_away_m(room.bench, each.trials, one.trials)[0] >= _SPOT_M for one in apart):
            apart.append(each)
    return alike(_least_welds(apart))


def _least_welds(found: list[Chosen]) -> list[Chosen]:
    """Leave out what takes more welds than another that does nearly as well."""
    return [
        each
        for each in found
        if not any(
            other.welds < each.welds and other.score_db < each.score_db + WORTH_A_WELD_DB
            for other in found
        )
    ]


def _away_m(bench: ExhaustBench, trials: Trials, one: Trials) -> FloatArray:
    """How far the farther branch of each trial is from where it is in ``one``."""
    return np.asarray(bench.apart_m(trials.place, one.place).max(axis=1))


def _crossed(room: Room, way: Way, places: IntArray, lengths: int) -> Trials:
    """Try one branch at each of these places with each of so many lengths."""
    return Trials.singles(places, room.lengths(lengths), way.tube.inner_diameter_m, way.can)


def _scores_db(on: Trier, trials: Trials) -> FloatArray:
    """Scores; infinite where two branches stand too near each other."""
    scores_db, fits = np.full(trials.count, np.inf), np.full(trials.count, True)
    if trials.place.shape[1] == 2:
        fits = on.bench.apart_m(*trials.place.T) >= APART_M
    scores_db[fits] = on.outcome(trials[np.flatnonzero(fits)]).score_db
    return scores_db


def downhill(room: Room, *spots: Trials) -> list[Chosen]:
    """Walk the starts at each spot, all built one way, downhill; give the best of each spot.

    The longer steps are taken by every other guess, which are enough to tell up from down.
    """
    benches = _half(room.bench), room.bench
    triers = [Trier(bench, spots[0].bore_m, spots[0].can) for bench in benches]
    return [_walked(room, starts, *triers) for starts in spots]


def _half(bench: ExhaustBench) -> ExhaustBench:
    return bench.thinned(slice(None, None, 2), slice(None))


def _walked(room: Room, starts: Trials, on_half: Trier, on_all: Trier) -> Chosen:
    """Walk every start to its lowest neighbour, with ever smaller steps."""
    now = starts
    for places, share in _STEPS:
        on = on_half if places > 1 else on_all
        score = _scores_db(on, now)
        for _ in range(_WALKS):
            around = _neighbours(now, room, places, share)
            many = around.place.shape[0] // now.count
            scores = _scores_db(on, around).reshape(now.count, many)
            lowest_neighbour = scores.argmin(axis=1)
            lower = scores[np.arange(now.count), lowest_neighbour] < score
            if not lower.any():
                break
            rows = np.arange(now.count) * many + lowest_neighbour
            now = replace(
                now,
                place=np.where(lower[:, None], around.place[rows], now.place),
                length_m=np.where(lower[:, None], around.length_m[rows], now.length_m),
            )
            score = np.where(lower, scores[np.arange(now.count), lowest_neighbour], score)
        # the poorer half stays behind: finer steps are taken on all guesses
        keep = np.argsort(score)[: max(now.count // 2, 3)]
        now, score = now[keep], score[keep]
    return _chosen(on_all, now.row(int(score.argmin())))


def _neighbours(trials: Trials, room: Room, places: int, share: float) -> Trials:
    """Each trial with one of its numbers moved up or down, trial by trial."""
    allowed = room.allowed
    index = np.searchsorted(allowed, trials.place)
    moves = []
    for branch in range(trials.place.shape[1]):
        for sign in (-1, 1):
            moved = index.copy()
            moved[:, branch] = np.clip(moved[:, branch] + sign * places, 0, allowed.size - 1)
            moves.append((moved, trials.length_m))
            longer = trials.length_m.copy()
            longer[:, branch] = np.clip(longer[:, branch] * (1.0 + sign * share), *room.lengths_m)
            moves.append((index, longer))
    place = allowed[np.stack([move[0] for move in moves], axis=1)]
    length = np.stack([move[1] for move in moves], axis=1)
    place, length = place.reshape(-1, place.shape[-1]), length.reshape(-1, length.shape[-1])
    # branches stand in the order of the flow, and a step may take one past the other
    return replace(trials, place=place, length_m=length).in_flow_order()
