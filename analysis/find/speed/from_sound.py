"""Engine speed from the sound alone, for cars that tell none.

The orders of an engine of known firing order are looked for at every possible engine speed, and the
path of most evidence is followed through time (Viterbi). Half and double the speed fit part of the
same lines, so two things tell them apart: at double the speed, half the firing order would stand
out more than the firing order does; and once most of the path is right, how far each order stands
out along it is what to look for in the second round, also where it should *not*. Where no speed
stands out from the others, none is given.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_lines import (
    CHUNK_STEP_S,
    SPEED_RATIO,
    lines_standing_out,
    speed_scores,
    standing_out_at,
)

# judgement: all of these. How right they make the engine speed is measured as a whole by
# tests/benchmarks/rpm_from_sound, on drives they were not chosen on. 20 % more of _SMOOTHED_FRAMES
# moves a peak by 0.03 % and a rise by 0.4 dB, of the others but the orders 0.01 % and 0.03 dB at
# most.
_SPEEDS_RPM = 500.0 * SPEED_RATIO ** np.arange(515, dtype=np.float64)  # to 6,500
_STRETCH_CHUNKS = 20  # ten minutes are worked through at a time
_ORDERS = np.arange(0.5, 12.01, 0.5)
_OTHER_ORDERS = 0.1  # weight of an order that is no multiple of the firing order
_WEIGHT_FALLS = 0.15  # with this power of the order
_HALF_ORDER_COST = 2.0
_LEARNT_WEIGHT = 1.5  # sum of the sizes of the weights in the second round
_COST_OF_STEP = 0.35  # of evidence, from one speed to the next between two frames
_COST_OF_JUMP = 8.0  # to any speed: a gear change, or the sound was lost in noise
_LONGEST_STEP_S = 0.25
_SMOOTH_STEP = 0.03  # of engine speed between two frames; more is a jump
_SMOOTHED_FRAMES = 5
_SURE = 2.0  # how far a speed must stand out from all others, in their standard deviations
_SURE_OVER_FRAMES = 11
_GRID_STEP_S = 0.02

Scores = NDArray[np.float32]


def speed_from_sound(
    copy: WorkingCopy, engine: Engine, progress: Callable[[float], None]
) -> SpeedTrack:
    """Work out the engine speed over the whole sound; NaN where it cannot be told.

    Parameters
    ----------
    copy : WorkingCopy
    engine : Engine
        Its firing order says which lines to expect.
    progress : callable
        Called with the part done, 0 to 1.
    """
    starts = np.arange(0.0, copy.duration_s, CHUNK_STEP_S)
    times, speeds = [np.empty(0)], [np.empty(0)]
    for first in range(0, starts.size, _STRETCH_CHUNKS):
        time_s, line_db, spacing_hz = _lines(copy, starts[first : first + _STRETCH_CHUNKS])
        if time_s.size > _SURE_OVER_FRAMES:
            times.append(time_s)
            speeds.append(_speeds(time_s, line_db, spacing_hz, engine.firing_order))
        progress(min(1.0, (first + _STRETCH_CHUNKS) / starts.size))
    return _on_grid(np.concatenate(times), np.concatenate(speeds), copy.duration_s)


def _lines(copy: WorkingCopy, starts_s: FloatArray) -> tuple[FloatArray, Scores, float]:
    parts = [lines_standing_out(copy, float(start_s)) for start_s in starts_s]
    parts = [part for part in parts if part[0].size]
    if not parts:
        return np.empty(0), np.empty((0, 0), dtype=np.float32), 1.0
    return (
        np.concatenate([part[0] for part in parts]),
        np.concatenate([part[1] for part in parts]),
        parts[0][2],
    )


def _speeds(
    time_s: FloatArray, line_db: Scores, spacing_hz: float, firing_order: float
) -> FloatArray:
    """Engine speed in each frame [shape=(n_frames,)]."""
    joined = np.diff(time_s, prepend=time_s[0]) < _LONGEST_STEP_S
    # two rounds: what this engine's own orders are is learnt along the first path
    first = _best_path(_expected_scores(line_db, spacing_hz, firing_order), joined)
    score = speed_scores(
        line_db, spacing_hz, _SPEEDS_RPM, _ORDERS, _learnt_weights(line_db, spacing_hz, first)
    )
    path = _best_path(score, joined)
    frame = np.arange(time_s.size)
    # against the other speeds of the same frame, because loud frames raise all scores alike
    stands_out = (score[frame, path] - score.mean(axis=1)) / np.maximum(score.std(axis=1), 1e-6)
    is_sure = uniform_filter1d(stands_out.astype(np.float64), _SURE_OVER_FRAMES) > _SURE
    return np.where(is_sure, _between_speeds(score, path, joined), np.nan)


def _between_speeds(
    score: Scores, path: NDArray[np.int64], joined: NDArray[np.bool_]
) -> FloatArray:
    """Speeds finer than one step: parabolas through the scores, then smoothed between jumps."""
    middle = np.clip(path, 1, score.shape[1] - 2)
    frame = np.arange(path.size)
    low, top, high = (score[frame, middle + step].astype(np.float64) for step in (-1, 0, 1))
    bend = low - 2.0 * top + high
    part = np.where(bend < -1e-6, 0.5 * (low - high) / np.minimum(bend, -1e-6), 0.0)
    log_rpm = np.log(_SPEEDS_RPM[middle]) + np.log(SPEED_RATIO) * np.clip(part, -1.0, 1.0)
    jumps = ~joined | (np.abs(np.diff(log_rpm, prepend=log_rpm[0])) > _SMOOTH_STEP)
    smooth = log_rpm.copy()
    for piece in np.split(frame, np.flatnonzero(jumps)):
        smooth[piece] = uniform_filter1d(log_rpm[piece], _SMOOTHED_FRAMES, mode="nearest")
    return np.asarray(np.exp(smooth))


def _expected_scores(line_db: Scores, spacing_hz: float, firing_order: float) -> Scores:
    """Evidence as any engine of this firing order should give it."""
    orders = _ORDERS[3.0 * firing_order >= _ORDERS]
    is_main = np.isclose(orders % firing_order, 0.0)
    weights = np.where(is_main, 1.0, _OTHER_ORDERS) / orders**_WEIGHT_FALLS
    weights /= weights.sum()
    score = speed_scores(line_db, spacing_hz, _SPEEDS_RPM, orders, weights)

    def order(number: float) -> Scores:
        return standing_out_at(line_db, spacing_hz, number * _SPEEDS_RPM / 60.0)

    main = np.maximum(order(firing_order), order(2.0 * firing_order))
    # at twice the true speed the half order would be the engine's firing: strong there, it costs
    excess = np.maximum(order(0.5 * firing_order) - main, np.float32(0.0))
    return np.asarray(score - np.float32(_HALF_ORDER_COST * weights.max()) * excess)


def _learnt_weights(line_db: Scores, spacing_hz: float, path: NDArray[np.int64]) -> FloatArray:
    """Weight of each order from how far it stands out along a path; negative for the weak ones."""
    seen = np.zeros((_ORDERS.size, path.size))
    for row, order in enumerate(_ORDERS):
        position = np.minimum(
            order * _SPEEDS_RPM[path] / 60.0 / spacing_hz, line_db.shape[1] - 1.001
        )
        index = position.astype(np.int64)
        part = position - index
        frame = np.arange(path.size)
        seen[row] = (1.0 - part) * line_db[frame, index] + part * line_db[frame, index + 1]
    of_frame = seen.mean(axis=0)
    evident = of_frame >= np.median(of_frame)
    typical = seen[:, evident].mean(axis=1)
    typical -= typical.mean()
    return np.asarray(_LEARNT_WEIGHT * typical / max(float(np.abs(typical).sum()), 1e-9))


def _best_path(score: Scores, joined: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Index of the speed in each frame [shape=(n_frames,)], by dynamic programming.

    A change of speed costs in proportion, and never more than a jump, so that the best way to every
    speed is a running maximum from below and one from above.
    """
    ramp = _COST_OF_STEP * np.arange(score.shape[1])
    value = np.zeros(score.shape)
    value[0] = score[0]
    for frame in range(1, score.shape[0]):
        before = value[frame - 1] - value[frame - 1].max()
        if joined[frame]:
            from_below = np.maximum.accumulate(before + ramp) - ramp
            from_above = np.maximum.accumulate((before - ramp)[::-1])[::-1] + ramp
            value[frame] = score[frame] + np.maximum(
                np.maximum(from_below, from_above), -_COST_OF_JUMP
            )
        else:
            value[frame] = score[frame]
    path = np.zeros(score.shape[0], dtype=np.int64)
    path[-1] = int(value[-1].argmax())
    for frame in range(score.shape[0] - 1, 0, -1):
        before = value[frame - 1]
        best = int(before.argmax())
        if joined[frame]:
            near = before - np.abs(ramp - ramp[path[frame]])
            nearest = int(near.argmax())
            best = nearest if near[nearest] > before[best] - _COST_OF_JUMP else best
        path[frame - 1] = best
    return path


def _on_grid(time_s: FloatArray, rpm: FloatArray, duration_s: float) -> SpeedTrack:
    """Straight lines between neighbouring frames that know the speed and nearly agree."""
    grid_s = np.arange(0.0, duration_s, _GRID_STEP_S)
    values = np.full(grid_s.size, np.nan)
    if time_s.size >= 2:
        right = np.clip(np.searchsorted(time_s, grid_s), 1, time_s.size - 1)
        left = right - 1
        step_s = time_s[right] - time_s[left]
        with np.errstate(invalid="ignore"):
            part = (grid_s - time_s[left]) / step_s
            good = (part >= 0.0) & (part <= 1.0) & (step_s < _LONGEST_STEP_S)
            good &= np.abs(np.log(rpm[right] / rpm[left])) < 0.1
            values[good] = ((1.0 - part) * rpm[left] + part * rpm[right])[good]
    return SpeedTrack(start_s=0.0, step_s=_GRID_STEP_S, rpm=values)
