"""What the plan and one adjustment after the post-fix drive would cure: caps moved, a branch added.

With branches on, a drive tells the gas within about 10 K and the outcome within about 1 dB (why it
does, and how it was found: :mod:`analysis.compare.trim.both_drives`). So each guess that a plan
leaves uncured is taken for the truth, and what could be built instead is tried in it. That drive
does not tell a length finer than :data:`_TOLD`, so an adjustment counts only where branches so much
shorter and longer cure as well. ``tests/benchmarks/worlds`` plays the whole of it on cars with
another physics.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.bench.exhaust_bench import ExhaustBench, Trials, ratios
from analysis.size.search import APART_M, Chosen, Room

# judgement: of a length: gas within 10 K, at some 420 K, is a length within 1.2 %, one standard
# deviation; and a saw. 20 % more moves a share cured after the adjustment by 0.01 at most.
_TOLD = 0.02
# judgement: how far a cap is moved, as share of the length either way, and how finely that is
# searched, for one branch and for each of two; as compare searches. 20 % more: 0.01 of a share.
_WIDEST, _STEPS_OF_ONE, _STEPS_OF_TWO = 0.25, 17, 9
# judgement: how finely the kept place and the length there are searched; 20 % more: 0.01 of a share
_PLACES, _LENGTHS, _FIRST_STEPS = 20, 12, 5
# judgement: of the guesses, the worst that a kept place is chosen for if fewer are left uncured;
# it moves the place, not the share
_LEAST_TROUBLED = 0.125
# judgement: what a guess may count when a place is chosen: a hopeless one does not decide alone
_COUNTS_DB = (-2.0, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A place to keep for a second branch, with the length most likely right there; one row.

    ``is_cured`` [shape=(n_members,)]: with the first branch, a moved cap, or both branches.
    """

    trial: Trials
    is_cured: BoolArray


def cured_after_trim(room: Room, chosen: Chosen) -> BoolArray:
    """Say in which guesses the branches cure, at once or with their caps moved."""
    is_cured = np.array(chosen.outcome.is_cured[0])
    left = np.flatnonzero(~is_cured)
    if left.size:
        bench = room.bench.thinned(left, slice(None))
        steps = _STEPS_OF_ONE if chosen.count == 1 else _STEPS_OF_TWO
        each = [_about(room, length_m, steps) for length_m in chosen.trials.length_m[0]]
        is_cured[left] = _sturdy_db(bench, chosen.trials.crossed(each)).min(axis=0) <= 0.0
    return is_cured


def kept_place(room: Room, chosen: Chosen, after_trim: BoolArray) -> Kept | None:
    """Find the place where a second branch would cure most of what one leaves uncured.

    None where there is no second place; ``after_trim`` says what a moved cap would cure.
    """
    short_db = chosen.outcome.short_of_cure_db[0]
    least = int(np.ceil(_LEAST_TROUBLED * short_db.size))
    worst = np.argsort(-short_db, kind="stable")
    troubled = worst[: max(least, int(np.count_nonzero(short_db > 0.0)))]
    bench = room.bench.thinned(troubled, slice(None))
    first = int(chosen.trials.place[0, 0])
    second = room.allowed[bench.apart_m(room.allowed, np.array(first)) >= APART_M]
    if second.size == 0:
        return None
    some = second[np.unique(np.linspace(0, second.size - 1, _PLACES).astype(np.int64))]
    lengths_m = room.lengths(_LENGTHS)
    one = chosen.trials
    singles = Trials.singles(some, lengths_m, one.bore_m, one.can)
    short_db = bench.outcome(one.joined_by(singles)).short_of_cure_db
    short_db = short_db.reshape(some.size, lengths_m.size, troubled.size)
    missed_db = np.clip(short_db.min(axis=1), *_COUNTS_DB).mean(axis=1)
    best = int(missed_db.argmin())
    softly = np.clip(short_db[best], *_COUNTS_DB).mean(axis=1)
    there = singles[best * lengths_m.size : (best + 1) * lengths_m.size]
    is_cured = after_trim.copy()
    left = troubled[~after_trim[troubled]]
    if left.size:
        is_cured[left] = _cured_by_two(room, one, there, left)
    return Kept(trial=there.row(int(softly.argmin())), is_cured=is_cured)


def _cured_by_two(room: Room, one: Trials, seconds: Trials, left: IntArray) -> BoolArray:
    """Say in which of these guesses a second branch cures, the first one's cap moved too."""
    bench = room.bench.thinned(left, slice(None))
    firsts_m = _about(room, float(one.length_m[0, 0]), _FIRST_STEPS)
    pairs = one.crossed([firsts_m]).joined_by(seconds)
    return np.asarray(_sturdy_db(bench, pairs).min(axis=0) <= 0.0)


def _about(room: Room, length_m: float, steps: int) -> FloatArray:
    """Lengths that a cap may be moved to, even in ratio, with this one in their middle."""
    longest_m = max(room.lengths_m[1], length_m)
    return np.unique(np.minimum(length_m * ratios(_WIDEST, steps), longest_m))


def _sturdy_db(bench: ExhaustBench, trials: Trials) -> FloatArray:
    """How far each is from a cure though its lengths are off, [shape=(n_trials, n_members)]."""
    off = (1.0 - _TOLD, 1.0, 1.0 + _TOLD)
    every = (bench.outcome(replace(trials, length_m=part * trials.length_m)) for part in off)
    return np.asarray(np.max([outcome.short_of_cure_db for outcome in every], axis=0))
