"""Fit many guesses to what was heard, each to its own noisy copy of it.

Straying from where a guess was drawn costs, so what the curves do not tell stays as wide as it was
drawn (randomised maximum likelihood; Oliver, He and Reynolds, 1996, from memory).

All of it runs in double precision: slopes over a nudge and yes-or-no steps make a hundred thousand
times as much of a rounding, and in single precision another processor chose other guesses.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable
from typing import TypeAlias

import numpy as np
from scipy.special import logsumexp

from analysis.basics.arrays import FloatArray, IntArray

# How much less than its likelihood a guess's misfit counts: the model is not all. judgement: 1
# would trust the model wholly and narrow every range; 20 % more moves a length by 4 mm and the
# outlook by 0.3 dB.
TEMPER = 4.0
# judgement: how finely weights are flattened; moves no answer
_FLATTER = 1.2
# judgement: step of a numerical slope, in standard deviations; 20 % more moves the outlook by 0.15
# dB.
_NUDGE = 0.02
# guesses nudged at once; judgement: calls against the processor's cache, moves no answer
_NUDGED = 192
# standard deviations; judgement: 1 in 16,000 lies beyond, where the model fails first
_FARTHEST = 4.0
# judgement: a step that gains no more of the cost was the guess's last: so much moves its weight by
# 3 %
_SETTLED = 0.25

Left: TypeAlias = Callable[[FloatArray, FloatArray], FloatArray]
"""What guesses at these coordinates [shape=(n_guesses, n_coordinates)] leave of what was heard
[shape=(n_guesses, n_heard)], over its standard deviation."""


def meet(
    left_of: Left,
    start: FloatArray,
    wanted: FloatArray,
    steps: int,
    free: IntArray,
    progress: Callable[[float], None],
    walked: FloatArray | None = None,
) -> FloatArray:
    """Walk every guess from ``start`` to where it meets ``wanted`` best, straying counted.

    ``walked`` is how far they have come already. Coordinates not numbered in ``free`` stay, such as
    those that choose, since nothing lies between their choices. Slopes are taken in that order.
    """
    fitted = (start if walked is None else walked).copy()
    damping, better = np.ones(start.shape[0]), np.ones(start.shape[0], dtype=np.bool_)
    slopes = np.zeros((*wanted.shape, start.shape[1]))
    cost, left = _cost(left_of, fitted, start, wanted)
    going = np.arange(start.shape[0])
    for step in range(steps):
        # a guess that stayed has the slopes that it had
        new = going[better[going]]
        if new.size > 0:
            along = _slopes(left_of, fitted[new], left[new], wanted[new], free)
            slopes[np.ix_(new, np.arange(wanted.shape[1]), free)] = along
        strayed = fitted[going] - start[going]
        moved = fitted[going] + _newton(slopes[going], left[going], strayed, damping[going])
        # a step that is too long lands where the model holds no more
        moved = np.clip(moved, -_FARTHEST, _FARTHEST)
        new_cost, new_left = _cost(left_of, moved, start[going], wanted[going])
        gain = cost[going] - new_cost
        better[going] = gain > 0.0
        took = going[gain > 0.0]
        fitted[took], left[took], cost[took] = (
            each[gain > 0.0] for each in (moved, new_left, new_cost)
        )
        # each guess has its own damping: some are near, others still far (Levenberg and Marquardt)
        damping[going] *= np.where(gain > 0.0, 1.0 / 4.0, 6.0)
        going = going[(gain <= 0.0) | (gain > _SETTLED)]
        progress((step + 1) / steps)
        if going.size == 0:
            break
    return fitted


def tempered_choice(
    misfit: FloatArray, kind: IntArray, count: int, rng: np.random.Generator
) -> IntArray:
    """Numbers of the drawn guesses to fit, likelier the nearer, none twice.

    Every kind [shape=(n_drawn,)] keeps the share that it was drawn with: before they are fitted,
    guesses with more unknowns are farther off, and that says nothing against them.
    """
    likely = -(misfit - misfit.min()) / 2.0 / (2.0 * TEMPER)
    for each in np.unique(kind):
        same = kind == each
        likely[same] -= logsumexp(likely[same]) - np.log(np.count_nonzero(same))
    # the largest of likelihood plus Gumbel noise are draws without replacement (Gumbel top-k)
    luck = rng.gumbel(size=misfit.size)
    return np.asarray(np.argsort(-(likely + luck))[:count], dtype=np.int64)


def tempered_weight(misfit: FloatArray) -> FloatArray:
    """Weights of fitted guesses; they add up to one."""
    # from the best one on: of plain misfits every exponential might be zero
    weight = np.exp(-(misfit - misfit.min()) / 2.0 / TEMPER)
    return np.asarray(weight / weight.sum())


def shared_weight(misfit: FloatArray, fewest: int) -> FloatArray:
    """Weights of fitted guesses, tempered on until so many count as if they were equally good.

    They add up to one. Where only a few fit, what they agree in may be chance.
    """
    weight = tempered_weight(misfit)
    while np.sum(weight**2) * fewest > 1.0:
        misfit = misfit / _FLATTER
        weight = tempered_weight(misfit)
    return weight


def resampled(weight: FloatArray, count: int, rng: np.random.Generator) -> IntArray:
    """Systematic resampling: each guess as often as its weight says."""
    marks = (np.arange(count) + rng.uniform()) / count
    # clipped: the sum may end a rounding below one
    return np.searchsorted(np.cumsum(weight), marks).clip(0, weight.size - 1).astype(np.int64)


def _cost(
    left_of: Left, at: FloatArray, start: FloatArray, wanted: FloatArray
) -> tuple[FloatArray, FloatArray]:
    left = left_of(at, wanted)
    return np.sum(left**2, axis=1) + np.sum((at - start) ** 2, axis=1), left


def _slopes(
    left_of: Left, at: FloatArray, left: FloatArray, wanted: FloatArray, along: IntArray
) -> FloatArray:
    """Of what is heard, over its deviation, [shape=(n_guesses, n_heard, n_along)]."""
    found = []
    # few guesses are nudged along many coordinates at once: each call has a price of its own
    for few in np.array_split(along, max(along.size * len(at) // _NUDGED, 1)):
        moved = np.repeat(at, few.size, axis=0)
        moved[np.arange(len(moved)), np.tile(few, len(at))] += _NUDGE
        there = left_of(moved, np.repeat(wanted, few.size, axis=0))
        found.append(left[:, None] - there.reshape(len(at), few.size, -1))
    return np.swapaxes(np.concatenate(found, axis=1), 1, 2) / _NUDGE


def _newton(
    slopes: FloatArray, left: FloatArray, strayed: FloatArray, damping: FloatArray
) -> FloatArray:
    turned = np.swapaxes(slopes, 1, 2)
    curvature = turned @ slopes
    # the one is the prior's: coordinates are standard normals
    curvature += (1.0 + damping)[:, None, None] * np.eye(slopes.shape[2])
    downhill = (turned @ left[..., None])[..., 0] - strayed
    return np.asarray(np.linalg.solve(curvature, downhill[..., None])[..., 0])
