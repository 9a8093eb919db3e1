"""Engine speed at its finest: how fast the phase of each order runs away from the crank's.

Seen along the crank angle of a speed that is wrong by a part d, order n turns 2 pi n d from one
revolution to the next. Half a second of an order spectrum cannot follow a foot that trembles; this
phase can. The orders are weighed by how far each stands out of the noise a quarter of an order
beside it, and a smooth curve is laid through what they say (a random walk, by least squares).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft
from scipy.linalg import solveh_banded
from scipy.ndimage import uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.find.sound.even_angle import even_in_angle
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy

# judgement: all of these. A shorter window or lag follows a faster foot and lets more noise in. How
# near they come to the true engine speed is measured by tests/benchmarks/find_accuracy.
_ORDERS = np.arange(0.5, 8.01, 0.5)
_POINTS = 32  # of a revolution: noise above order 23 folds onto order 8 and below; it is weak
_WINDOW_TURNS = 16  # half orders lie eight lines apart; 0.4 s at 2,400 rpm
_STEP_TURNS = 2  # whole turns, over which no half order changes its phase
_LAG_STEPS = 1  # phase is compared over twice this
_STEPS_AT_ONCE = 1000
_NOISE_STEPS = 41
_BESIDE_STEPS = _NOISE_STEPS // 2 + _LAG_STEPS  # on either side: noise and lag look so far
_LARGEST = 0.02  # a line farther away belongs to something else
_REMEMBERED = 0.34  # of the phase noise is new after the lag: what a Hann window no longer shares
_SPARED = 1.0 / 8.0  # overlapping windows tell the same thing several times
_WALK = 0.005  # standard deviation of a change in a second
_TOLD = 0.01  # standard deviation of what is refined
_SHARPEST = 5e-4
_SIGMA_FLOOR = 2e-4
_SIGMA_STEPS = 7


def speed_by_phase(copy: WorkingCopy, track: SpeedTrack) -> tuple[SpeedTrack, FloatArray]:
    """``track``, which must be right within 2 %, corrected by the phases of the orders.

    Returns
    -------
    SpeedTrack
    sigma_part : ndarray [shape=(n_times,)]
        Standard deviation of its speed, as a part of it, at each point of the track.
    """
    turns, grid_s = track.revolutions, track.time_s
    count = int((turns[-1] - _WINDOW_TURNS) / _STEP_TURNS) + 1
    if count <= 2 * _LAG_STEPS:
        return track, np.where(np.isfinite(track.rpm), _TOLD, np.nan)
    parts = [
        _observed(copy, turns, grid_s, first, min(_STEPS_AT_ONCE, count - first))
        for first in range(0, count, _STEPS_AT_ONCE)
    ]
    error, weight = (np.concatenate(each) for each in zip(*parts, strict=True))
    first_s, middle_s, last_s = (
        np.interp(_STEP_TURNS * np.arange(count) + part * _WINDOW_TURNS, turns, grid_s)
        for part in (0.0, 0.5, 1.0)
    )
    heard = np.isfinite(track.at(middle_s)) & ~copy.gaps.touch(first_s, last_s)
    weight = np.where(heard, weight, 0.0)
    step_s = np.diff(middle_s)
    smooth, sigma = _smooth(error, weight, step_s), _sigma(weight, step_s)
    sigma_part = np.where(np.isfinite(track.rpm), np.interp(grid_s, middle_s, sigma), np.nan)
    rpm = track.rpm * (1.0 + np.interp(grid_s, middle_s, smooth))
    return replace(track, rpm=rpm), sigma_part


def _observed(
    copy: WorkingCopy,
    turns: FloatArray,
    time_s: FloatArray,
    first: int,
    steps: int,
) -> tuple[FloatArray, FloatArray]:
    """Error of the speed at each of some steps, and its weight [shape=(n_steps,)]."""
    size, hop = _WINDOW_TURNS * _POINTS, _STEP_TURNS * _POINTS
    first_turn = float((first - _BESIDE_STEPS) * _STEP_TURNS)
    points = (steps + 2 * _BESIDE_STEPS - 1) * hop + size
    sound = even_in_angle(copy, turns, time_s, first_turn, points, _POINTS)
    return _agreed(_quarter_orders(np.lib.stride_tricks.sliding_window_view(sound, size)[::hop]))


def _quarter_orders(frames: NDArray[np.float32]) -> NDArray[np.complex64]:
    """Hann-windowed transform of each frame to every quarter order [shape=(n_lines, n_frames)].

    A quarter order comes back every four turns, so these may be laid on each other first.
    """
    window = np.hanning(frames.shape[1] + 1)[:-1]
    window = (window / window.sum()).astype(np.float32).reshape(-1, 4 * _POINTS)
    folded = np.einsum("fkp,kp->fp", frames.reshape(frames.shape[0], *window.shape), window)
    return np.asarray(rfft(folded, axis=1).T)


def _agreed(lines: NDArray[np.complex64]) -> tuple[FloatArray, FloatArray]:
    """Mean over the orders of the error that each shows, and its weight, of all inner steps."""
    first, last = round(4.0 * _ORDERS[0]), round(4.0 * _ORDERS[-1]) + 1
    line, beside = lines[first:last:2], lines[first + 1 : last + 1 : 2]
    # a quarter order away nothing turns with the engine, so what is there is noise
    noise = uniform_filter1d(beside.real**2 + beside.imag**2, _NOISE_STEPS)
    inner = slice(_BESIDE_STEPS, -_BESIDE_STEPS)
    later = slice(_BESIDE_STEPS + _LAG_STEPS, lines.shape[1] - _BESIDE_STEPS + _LAG_STEPS)
    earlier = slice(_BESIDE_STEPS - _LAG_STEPS, -_BESIDE_STEPS - _LAG_STEPS)
    # the angle between both is how far the assumed speed is off, whatever the phase itself
    turned = line[:, later] * np.conj(line[:, earlier])
    radian_per_part = (4.0 * np.pi * _LAG_STEPS * _STEP_TURNS * _ORDERS).astype(np.float32)
    radian_per_part = radian_per_part[:, np.newaxis]
    error = np.angle(turned) / radian_per_part
    over_noise = np.maximum(np.abs(turned) / np.maximum(noise[:, inner], 1e-30) - 1.0, 0.0)
    # the inverse variance of each order's error: high orders turn faster and tell more
    weight = over_noise * radian_per_part**2 / _REMEMBERED * _SPARED
    # so far off it is another line that happens to pass by
    weight[np.abs(error) > _LARGEST] = 0.0
    total = weight.sum(axis=0)
    mean = (weight * error).sum(axis=0) / np.maximum(total, 1e-30)
    return mean, np.minimum(total, 1.0 / _SHARPEST**2)


def _smooth(error: FloatArray, weight: FloatArray, step_s: FloatArray) -> FloatArray:
    """Find the most likely random walk: least squares with a price on every step."""
    walk = 1.0 / (_WALK**2 * step_s)
    band = np.zeros((2, error.size))
    band[0] = weight + 1.0 / _TOLD**2
    band[0, 1:] += walk
    band[0, :-1] += walk
    band[1, :-1] = -walk
    # each moment is tied to its neighbours alone, so the matrix is a band
    return np.asarray(solveh_banded(band, weight * error, lower=True), dtype=np.float64)


def _sigma(weight: FloatArray, step_s: FloatArray) -> FloatArray:
    """Give the standard deviation of that walk, as if weights and steps around were even.

    The inverse of a matrix with d + 2 w on its diagonal and -w beside it has
    1 / sqrt(d^2 + 4 d w) on its own.
    """
    around = uniform_filter1d(weight, _SIGMA_STEPS, mode="nearest") + 1.0 / _TOLD**2
    walk = 1.0 / (_WALK**2 * np.append(step_s, step_s[-1]))
    return np.hypot((around**2 + 4.0 * around * walk) ** -0.25, _SIGMA_FLOOR)
