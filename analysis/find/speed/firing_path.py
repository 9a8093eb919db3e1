"""Engine speed as an evenly firing engine shows it: its firing order, and that twice and thrice.

The path of most evidence is followed through time. Half and double the speed fit part of the same
lines, so two things tell them apart: at double the speed, half the firing order would stand out
more than the firing order does; and once most of the path is right, how far each order stands out
along it is what to look for in the second round, also where it should *not*.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_lines import (
    CHUNK_STEP_S,
    between_lines,
    line_spacing_hz,
    line_weights,
    lines_standing_out,
)
from analysis.find.speed.speed_path import (
    SPEEDS_RPM,
    HeardPath,
    Scores,
    are_joined,
    best_path,
    between_speeds,
    stands_out,
)

# judgement: all of these. How right they make the engine speed is measured as a whole by
# tests/benchmarks/rpm_from_sound, on drives they were not chosen on. 20 % more of any but the
# orders moves a peak by 0.01 % and a rise by 0.03 dB at most.
_ORDERS = np.arange(0.5, 12.01, 0.5)
_OTHER_ORDERS = 0.1  # weight of an order that is no multiple of the firing order
_WEIGHT_FALLS = 0.15  # with this power of the order
_HALF_ORDER_COST = 2.0
_LEARNT_WEIGHT = 1.5  # sum of the sizes of the weights in the second round
_SURE = 2.0  # how far a speed must stand out from all others, in their standard deviations
_SURE_OVER_FRAMES = 11


def firing_path(
    copy: WorkingCopy, start_s: float, end_s: float, firing_order: float
) -> HeardPath | None:
    """Engine speed of one stretch of the sound; None where there is too little of it."""
    parts = [lines_standing_out(copy, at) for at in np.arange(start_s, end_s, CHUNK_STEP_S)]
    time_s, line_db = (np.concatenate(each) for each in zip(*parts, strict=True))
    spacing_hz = line_spacing_hz(copy)
    if time_s.size <= _SURE_OVER_FRAMES:
        return None
    joined = are_joined(time_s)
    # two rounds: what this engine's own orders are is learnt along the first path
    first = best_path(_expected_scores(line_db, spacing_hz, firing_order), joined)
    score = _along(line_db, spacing_hz, _ORDERS, _learnt_weights(line_db, spacing_hz, first))
    path = best_path(score, joined)
    rpm = between_speeds(score, path, joined)
    return HeardPath(
        time_s=time_s,
        rpm=rpm,
        rate_per_s=np.gradient(np.log(rpm), time_s),
        is_sure=stands_out(score, path, _SURE_OVER_FRAMES) > _SURE,
    )


def _expected_scores(line_db: Scores, spacing_hz: float, firing_order: float) -> Scores:
    """Evidence as any engine of this firing order should give it."""
    orders = _ORDERS[3.0 * firing_order >= _ORDERS]
    is_main = np.isclose(orders % firing_order, 0.0)
    weights = np.where(is_main, 1.0, _OTHER_ORDERS) / orders**_WEIGHT_FALLS
    weights /= weights.sum()
    score = _along(line_db, spacing_hz, orders, weights)

    def order(number: float) -> Scores:
        return _along(line_db, spacing_hz, np.array([number]), np.ones(1))

    main = np.maximum(order(firing_order), order(2.0 * firing_order))
    # at twice the true speed the half order would be the engine's firing: strong there, it costs
    excess = np.maximum(order(0.5 * firing_order) - main, np.float32(0.0))
    return np.asarray(score - np.float32(_HALF_ORDER_COST * weights.max()) * excess)


def _along(line_db: Scores, spacing_hz: float, orders: FloatArray, weights: FloatArray) -> Scores:
    """Weighted sum over orders, for each frame and speed [shape=(n_frames, n_speeds)]."""
    return line_db @ line_weights(line_db.shape[1], spacing_hz, SPEEDS_RPM, orders, weights)


def _learnt_weights(line_db: Scores, spacing_hz: float, path: NDArray[np.int64]) -> FloatArray:
    """Weight of each order from how far it stands out along a path; negative for the weak ones."""
    position = np.multiply.outer(SPEEDS_RPM[path] / 60.0 / spacing_hz, _ORDERS)
    seen = between_lines(line_db, np.minimum(position, line_db.shape[1] - 1.001))
    of_frame = seen.mean(axis=1)
    evident = of_frame >= np.median(of_frame)
    typical = seen[evident].mean(axis=0, dtype=np.float64)
    typical -= typical.mean()
    return np.asarray(_LEARNT_WEIGHT * typical / max(float(np.abs(typical).sum()), 1e-9))
