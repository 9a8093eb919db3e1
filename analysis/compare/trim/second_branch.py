"""A second branch at the place kept for it: whether the drive after the work asks for one."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.bench.exhaust_bench import Trials, ratios
from analysis.compare.trim.anchored import (
    BETTER_SHARE,
    CURED_ENOUGH,
    Anchored,
    outlook_of,
)
from analysis.compare.trim.built import BuiltBranch
from analysis.verdicts import Addition, TrimOutlook

# judgement: how finely lengths are searched: the first one's about that built, the second's about
# the one foretold, then both about the best. Finer only costs time: a cure is flat about its best.
_FIRST_WIDEST, _SECOND_WIDEST, _FINEST = 0.25, 0.6, 0.04  # share of a length, up and down
_FIRST_STEPS, _SECOND_STEPS, _FINE_STEPS = 9, 21, 5
_MOVED = 0.01  # of a length; judgement: a cap is not moved for less
# judgement: share of the credible cases cured from which the first branch's cap may stay
_SURE_ENOUGH = 0.9


def add_branch(
    bench: Anchored, built: Trials, kept: BuiltBranch, trimmed: TrimOutlook, longest_m: float | None
) -> Addition:
    """Work out the second branch; its outlook says whether it is worth the weld.

    Parameters
    ----------
    bench : Anchored
        With the stations of the branch that was built and of the kept place, in this order.
    built : Trials
        The branch that was built, one row.
    trimmed : TrimOutlook
        What trimming the first one alone would do.
    """
    first_m = float(built.length_m[0, 0])
    room_m = np.inf if longest_m is None else longest_m
    seconds_m = np.minimum(kept.length_m * ratios(_SECOND_WIDEST, _SECOND_STEPS), room_m)
    best = _best(bench, built, np.array([first_m]), seconds_m)
    if _cured_share(bench, best) < _SURE_ENOUGH:
        firsts_m = np.minimum(first_m * ratios(_FIRST_WIDEST, _FIRST_STEPS), max(room_m, first_m))
        best = _best(bench, built, firsts_m, seconds_m)
        fine = ratios(_FINEST, _FINE_STEPS)
        firsts_m, seconds_m = (_of(bench, best, branch) * fine for branch in (0, 1))
        best = _best(bench, built, firsts_m, np.minimum(seconds_m, room_m))
    outlook = outlook_of(bench.outcome(built), bench.outcome(best))
    without = max(trimmed.cured_now_share, trimmed.cured_then_share)
    asked = without < CURED_ENOUGH and outlook.cured_then_share >= without + BETTER_SHARE
    return Addition(
        length_m=_of(bench, best, 1),
        position_m=kept.position_m or 0.0,
        legs=kept.legs,
        bore_m=kept.bore_m,
        first_m=_of(bench, best, 0),
        outlook=replace(outlook, is_worth_it=asked),
    )


def moves_first(addition: Addition | None, built: Trials) -> bool:
    """Say whether the branch that was built must change for the second one."""
    if addition is None or not addition.outlook.is_worth_it:
        return False
    return bool(abs(addition.first_m / built.length_m[0, 0] - 1.0) > _MOVED)


def _best(bench: Anchored, built: Trials, firsts_m: FloatArray, seconds_m: FloatArray) -> Trials:
    """Cross lengths of the branch that was built and of the second one."""
    one, other = bench.in_flow_order
    lengths_m = (firsts_m, seconds_m)
    like = replace(built, place=np.array([[one, other]]))
    return bench.best(like, (lengths_m[one], lengths_m[other]))


def _cured_share(bench: Anchored, trial: Trials) -> float:
    return float(bench.outcome(trial).cured_share[0])


def _of(bench: Anchored, pair: Trials, branch: int) -> float:
    """Length of the built branch, 0, or of the second, 1, in a pair in the order of the flow."""
    return float(pair.length_m[0, bench.in_flow_order.index(branch)])
