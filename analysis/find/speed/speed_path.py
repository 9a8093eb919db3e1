"""The engine speed of most evidence, followed through time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.speed.speed_lines import SPEED_RATIO

# judgement: all of these. How right they make the engine speed is measured as a whole by
# tests/benchmarks/rpm_from_sound, on drives they were not chosen on. 20 % more of _SMOOTHED_FRAMES
# moves a peak by 0.03 % and a rise by 0.4 dB, of the others but the orders 0.01 % and 0.03 dB at
# most.
SPEEDS_RPM = 500.0 * SPEED_RATIO ** np.arange(537, dtype=np.float64)  # to 7,250
HOP_S = 0.1
COST_OF_STEP = 0.35  # of evidence, from one speed to the next between two frames
COST_OF_JUMP = 8.0  # to any speed: a gear change, or the sound was lost in noise
LONGEST_STEP_S = 0.25  # frames further apart start a new path
_SMOOTH_STEP = 0.03  # of engine speed between two frames; more is a jump
_SMOOTHED_FRAMES = 5
_ONE_SPEED = 0.01
# judgement: the fastest change of speed, in neutral, as a share of it; and how rough a path may be
_FASTEST_PER_S, _ROUGH = 3.0, 0.08

Scores = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardPath:
    """Engine speed as one way of listening hears it.

    Attributes
    ----------
    time_s, rpm : ndarray [shape=(n_frames,)]
    rate_per_s : ndarray [shape=(n_frames,)]
        How fast it climbs, as a share of itself.
    is_sure : ndarray of bool [shape=(n_frames,)]
        Whether it stands out from the other speeds of its frame.
    """

    time_s: FloatArray
    rpm: FloatArray
    rate_per_s: FloatArray
    is_sure: NDArray[np.bool_]

    def scaled(self, ratio: float) -> "HeardPath":
        """Give the same path read as another engine speed."""
        return replace(self, rpm=self.rpm * ratio)

    @property
    def share_at_few_speeds(self) -> float:
        """Share of the sure time that the three commonest speeds hold, each 1 % wide."""
        if not self.is_sure.any():
            return 0.0
        places = np.floor(np.log(self.rpm[self.is_sure]) / _ONE_SPEED).astype(np.int64)
        times = np.sort(np.bincount(places - places.min()))
        return float(times[-3:].sum() / times.sum())

    def only_in(self, stretches: Sequence[IntArray]) -> "HeardPath":
        """Give the same path, sure of itself in these frames only."""
        is_sure = np.zeros(self.is_sure.size, dtype=np.bool_)
        is_sure[np.concatenate([np.empty(0, dtype=np.int64), *stretches])] = True
        return replace(self, is_sure=is_sure & self.is_sure)


def joined_paths(parts: list[HeardPath]) -> HeardPath:
    """Put the paths of stretches that follow each other into one."""
    whole = HeardPath(
        time_s=np.concatenate([np.empty(0), *(part.time_s for part in parts)]),
        rpm=np.concatenate([np.empty(0), *(part.rpm for part in parts)]),
        rate_per_s=np.concatenate([np.empty(0), *(part.rate_per_s for part in parts)]),
        is_sure=np.concatenate([np.empty(0, dtype=np.bool_), *(part.is_sure for part in parts)]),
    )
    return without_jumps(whole)


def without_jumps(path: HeardPath) -> HeardPath:
    """Be sure only of the weightiest part of a path that one engine could have run through.

    No flywheel jumps to half its speed, so of two stretches with such a jump between them one was
    read wrong. Of all ways to pick stretches that can follow each other, the one that keeps most
    frames is kept.
    """
    sure = np.flatnonzero(path.is_sure)
    if sure.size == 0:
        return path
    time_s, log_rpm = path.time_s[sure], np.log(path.rpm[sure])
    can_follow = np.abs(np.diff(log_rpm)) <= _FASTEST_PER_S * np.diff(time_s) + _ROUGH
    stretches = np.split(np.arange(sure.size), np.flatnonzero(~can_follow) + 1)
    first = np.array([stretch[0] for stretch in stretches])
    last = np.array([stretch[-1] for stretch in stretches])
    # what is kept up to each stretch, if it is the last
    kept = np.array([float(stretch.size) for stretch in stretches])
    came_from = np.full(kept.size, -1)
    for number in range(1, kept.size):
        before, start = last[:number], first[number]
        apart = np.abs(log_rpm[before] - log_rpm[start])
        reach = _FASTEST_PER_S * (time_s[start] - time_s[before]) + _ROUGH
        worth = np.where(apart <= reach, kept[:number], 0.0)
        best = int(worth.argmax())
        if worth[best] > 0.0:
            kept[number] += worth[best]
            came_from[number] = best
    is_sure = np.zeros(path.is_sure.size, dtype=np.bool_)
    number = int(kept.argmax())
    while number >= 0:
        is_sure[sure[stretches[number]]] = True
        number = int(came_from[number])
    return replace(path, is_sure=is_sure)


def are_joined(time_s: FloatArray) -> NDArray[np.bool_]:
    """Whether each frame follows the one before it."""
    return np.asarray(np.diff(time_s, prepend=time_s[0]) < LONGEST_STEP_S)


def stands_out(score: Scores, path: NDArray[np.int64], over_frames: int) -> FloatArray:
    """How far the path stands out from all speeds of the same frame, in standard deviations.

    Not in dB, because loud frames raise all scores alike.
    """
    frame = np.arange(path.size)
    out = (score[frame, path] - score.mean(axis=1)) / np.maximum(score.std(axis=1), 1e-6)
    return np.asarray(uniform_filter1d(out.astype(np.float64), over_frames))


def between_speeds(score: Scores, path: NDArray[np.int64], joined: NDArray[np.bool_]) -> FloatArray:
    """Speeds finer than one step, smoothed between jumps."""
    log_rpm = np.log(SPEEDS_RPM[0]) + np.log(SPEED_RATIO) * between_steps(score, path, 1e-6)
    jumps = ~joined | (np.abs(np.diff(log_rpm, prepend=log_rpm[0])) > _SMOOTH_STEP)
    smooth = log_rpm.copy()
    # never across a jump: a mean of two gears is driven in neither
    for piece in np.split(np.arange(path.size), np.flatnonzero(jumps)):
        smooth[piece] = uniform_filter1d(log_rpm[piece], _SMOOTHED_FRAMES, mode="nearest")
    return np.asarray(np.exp(smooth))


def between_steps(score: Scores, path: NDArray[np.int64], flattest: float) -> FloatArray:
    """Where each frame's top lies, in steps: by a parabola through the path's and its neighbours.

    A score that bends less than ``flattest`` has no top between its steps.
    """
    middle = np.clip(path, 1, score.shape[1] - 2)
    frame = np.arange(path.size)
    low, top, high = (score[frame, middle + step].astype(np.float64) for step in (-1, 0, 1))
    bend = low - 2.0 * top + high
    part = np.where(bend < -flattest, 0.5 * (low - high) / np.minimum(bend, -flattest), 0.0)
    return np.asarray(middle + np.clip(part, -1.0, 1.0))


def best_path(score: Scores, joined: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Index of the speed in each frame [shape=(n_frames,)], by dynamic programming.

    A change of speed costs in proportion, and never more than a jump, so that the best way to every
    speed is a running maximum from below and one from above.
    """
    ramp = COST_OF_STEP * np.arange(score.shape[1])
    value = np.zeros(score.shape)
    value[0] = score[0]
    for frame in range(1, score.shape[0]):
        # only differences count: without it an hour adds up to numbers that swallow them
        before = value[frame - 1] - value[frame - 1].max()
        if joined[frame]:
            from_below = np.maximum.accumulate(before + ramp) - ramp
            from_above = np.maximum.accumulate((before - ramp)[::-1])[::-1] + ramp
            value[frame] = score[frame] + np.maximum(
                np.maximum(from_below, from_above), -COST_OF_JUMP
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
            # a jump is taken only where it pays, and then to the best of all
            best = nearest if near[nearest] > before[best] - COST_OF_JUMP else best
        path[frame - 1] = best
    return path
