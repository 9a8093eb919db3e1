"""Levenberg-Marquardt with Huber weights, within limits, on the normal equations.

scipy.optimize.least_squares does the same by a singular value decomposition at every step, which
takes ten times as long on the tall, well-scaled problems here (a thousand rows, a hundred
parameters); its iterative solver stops short of the minimum. A test holds the two side by side.
Slopes come in blocks, because the level of one order depends on a third of the parameters only.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dposv

from analysis.basics.arrays import BoolArray, FloatArray, IntArray

# judgement: where a fit stops; 20 % more of any moved nothing.
_MOST_STEPS = 80
_LEAST_GAIN = 1e-5  # of the cost, over two steps in a row
_FIRST_DAMPING = 1e-2


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Slopes of some neighbouring residuals by the parameters they depend on.

    ``columns`` [shape=(k,)] are those parameters' numbers, ``slopes`` [shape=(rows, k)].
    """

    columns: IntArray
    slopes: FloatArray


def huber_cost(residual: FloatArray, threshold: float) -> FloatArray:
    """Squares near zero, straight lines beyond ``threshold``; same shape as ``residual``."""
    size = np.abs(residual)
    return np.where(size < threshold, size**2, 2.0 * threshold * size - threshold**2)


def minimise(
    model: Callable[[FloatArray], tuple[FloatArray, Sequence[Block]]],
    start: FloatArray,
    limits: tuple[FloatArray, FloatArray],
    threshold: float,
) -> FloatArray:
    """Parameters [shape=(n,)] of least Huber cost that lie within ``limits``.

    ``model`` gives residuals [shape=(m,)] and their slopes, block after block.
    """
    low, high = limits
    here = np.clip(start, low, high)
    residual, blocks = model(here)
    cost = float(huber_cost(residual, threshold).sum())
    free, curvature, gradient = _where_free(here, limits, residual, blocks, threshold)
    damping, stalled = _FIRST_DAMPING, 0
    for _ in range(_MOST_STEPS):
        if not free.any():
            break
        step = np.zeros(here.size)
        step[free] = _step(curvature, gradient, damping)
        trial = np.clip(here + step, low, high)
        trial_residual, trial_blocks = model(trial)
        trial_cost = float(huber_cost(trial_residual, threshold).sum())
        if trial_cost < cost:
            stalled = stalled + 1 if cost - trial_cost < _LEAST_GAIN * cost else 0
            here, cost = trial, trial_cost
            free, curvature, gradient = _where_free(
                here, limits, trial_residual, trial_blocks, threshold
            )
            damping *= 0.3
        else:
            damping *= 5.0
        if stalled == 2 or damping > 1e8:
            break
    return here


def _where_free(
    here: FloatArray,
    limits: tuple[FloatArray, FloatArray],
    residual: FloatArray,
    blocks: Sequence[Block],
    threshold: float,
) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Tell which parameters may move [shape=(n,)], and the normal equations of those."""
    low, high = limits
    # iteratively reweighted: beyond the threshold a residual pulls with constant force
    weight = np.minimum(1.0, threshold / np.maximum(np.abs(residual), 1e-12))
    curvature, gradient = _normal_equations(blocks, residual, weight)
    # a parameter that leans on its limit must not steer the step of the others
    free = ~((here <= low) & (gradient > 0.0) | (here >= high) & (gradient < 0.0))
    return free, curvature[free][:, free], gradient[free]


def _normal_equations(
    blocks: Sequence[Block], residual: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Half the curvature of the weighted squares [shape=(n, n)], and half their gradient."""
    size = 1 + max(int(block.columns.max()) for block in blocks)
    curvature, gradient = np.zeros((size, size)), np.zeros(size)
    done = 0
    for block in blocks:
        here = slice(done, done + block.slopes.shape[0])
        done = here.stop
        rooted = block.slopes * np.sqrt(weight[here])[:, np.newaxis]
        curvature[block.columns[:, np.newaxis], block.columns] += rooted.T @ rooted
        gradient[block.columns] += block.slopes.T @ (weight[here] * residual[here])
    return curvature, gradient


def _step(curvature: FloatArray, gradient: FloatArray, damping: float) -> FloatArray:
    damped = curvature.copy()
    # scaled by the curvature (Marquardt 1963), since parameters have different units
    damped[np.diag_indices_from(damped)] += damping * np.diag(curvature) + 1e-9
    # LAPACK itself: scipy's checks around it take longer than so small a problem
    _, uphill, failed = dposv(damped, gradient)
    return np.zeros(gradient.size) if failed else -np.asarray(uphill)
