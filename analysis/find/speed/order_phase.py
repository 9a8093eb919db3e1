"""Engine speed at its finest: how fast the phase of each order runs away from the crank's.

Seen along the crank angle of a speed that is wrong by a part d, order n turns d n rpm / 60 times a
second. Half a second of an order spectrum cannot follow a foot that trembles; this phase can. The
orders are weighed by how far each stands out of the noise a quarter of an order beside it, and a
smooth curve is laid through what they say (a random walk, by least squares).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solveh_banded
from scipy.ndimage import convolve1d, uniform_filter1d

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy

# judgement: all of these. A shorter window or lag follows a faster foot and lets more noise in. How
# near they come to the true engine speed is measured by tests/benchmarks/find_accuracy. 20 % more
# of _RATE_HZ moves a peak by 0.006 % and a rise by 0.3 dB, of the lag a rise by 0.05 dB, of the
# others but the orders 0.01 dB at most.
_ORDERS = np.arange(0.5, 8.01, 0.5)
_CHUNK_S = 60.0
_STEPS_AT_ONCE = 500  # so that they stay in the processor's cache
_MARGIN_S = 3.0  # much longer than the walk remembers
_RATE_HZ = 40.0  # of the phases
_WINDOW_STEPS = 16  # 0.4 s: 5 Hz, less than half an order from 600 rpm up
_LAG_STEPS = 2  # phase is compared over twice this
_NOISE_STEPS = 41
_LARGEST = 0.02  # a line farther away belongs to something else
_REMEMBERED = 0.45  # of the phase noise is new after the lag
_SPARED = 1.0 / 8.0  # overlapping windows tell the same thing several times
_WALK = 8e-4  # standard deviation of a change in one step
_TOLD = 0.01  # standard deviation of what is refined
_SHARPEST = 5e-4
_SIGMA_FLOOR = 2e-4
_SIGMA_STEPS = 15


def speed_by_phase(copy: WorkingCopy, track: SpeedTrack) -> tuple[SpeedTrack, FloatArray]:
    """``track``, which must be right within 2 %, corrected by the phases of the orders.

    Returns
    -------
    SpeedTrack
    sigma_part : ndarray [shape=(n_times,)]
        Standard deviation of its speed, as a part of it, at each point of the track.
    """
    rpm, sigma_part = track.rpm.copy(), np.full(track.rpm.size, _TOLD)
    grid_s = track.time_s
    done = 0
    for time_s, error, sigma in _corrections(copy, track):
        here = slice(done, int(np.searchsorted(grid_s, time_s[-1] + 1.0 / _RATE_HZ)))
        done = here.stop
        rpm[here] *= 1.0 + np.interp(grid_s[here], time_s, error)
        sigma_part[here] = np.interp(grid_s[here], time_s, sigma)
    sigma_part[~np.isfinite(rpm)] = np.nan
    return SpeedTrack(start_s=track.start_s, step_s=track.step_s, rpm=rpm), sigma_part


def _corrections(
    copy: WorkingCopy, track: SpeedTrack
) -> Iterator[tuple[FloatArray, FloatArray, FloatArray]]:
    """Time, smooth error of the speed, and its standard deviation, a minute at a time."""
    block = round(copy.sample_rate_hz / _RATE_HZ)
    step_s = block / copy.sample_rate_hz
    # each stretch is worked out with some sound beside it, so that stretches join without a seam
    margin = round(_MARGIN_S / step_s)
    steps = round(_CHUNK_S / step_s)
    turns, grid_s = track.revolutions, track.time_s
    for first in range(0, int(copy.duration_s / step_s), steps):
        start = (first - margin) * block
        count = (steps + 2 * margin) * block
        samples = copy.read(start, count)
        at_s = (start + np.arange(count)) / copy.sample_rate_hz
        time_s = (start / copy.sample_rate_hz) + step_s * (
            np.arange(steps + 2 * margin, dtype=np.float64) + 0.5
        )
        quarter = _turning(np.interp(at_s, grid_s, turns))
        lines = _lines(samples, quarter, block)
        rpm = track.at(time_s)
        heard = np.isfinite(rpm) & ~copy.gaps.touch(time_s - 0.2, time_s + 0.2)
        error, weight = _agreed(lines, np.where(heard, rpm, 1.0), step_s)
        weight = np.where(heard, weight, 0.0)
        inner = slice(margin, margin + steps)
        yield time_s[inner], _smooth(error, weight)[inner], _sigma(weight)[inner]


def _turning(turns: FloatArray) -> NDArray[np.complex64]:
    """Turn by a quarter order at these crank angles; whole turns left out for precision."""
    # not ``turns % 4``: the remainder of a division takes ten times as long
    part = (turns - 4.0 * np.floor(0.25 * turns)).astype(np.float32)
    part *= np.float32(-0.5 * np.pi)
    out = np.empty(turns.shape, dtype=np.complex64)
    np.cos(part, out=out.real)
    np.sin(part, out=out.imag)
    return out


def _lines(
    samples: NDArray[np.float32], quarter: NDArray[np.complex64], block: int
) -> NDArray[np.complex64]:
    """Complex amplitude of each order and of a quarter order beside it.

    Returns an array [shape=(n_orders, 2, n_steps)].
    """
    sound, turns = samples.reshape(-1, block), quarter.reshape(-1, block)
    last = round(4.0 * _ORDERS[-1]) + 1
    sums = np.empty((last + 1, sound.shape[0]), dtype=np.complex64)
    for first in range(0, sound.shape[0], _STEPS_AT_ONCE):
        here = slice(first, first + _STEPS_AT_ONCE)
        # A block down each column, so that all are added up row by row. A product with a vector
        # would go to BLAS, whose threads mostly wait for each other when rows are so short.
        turn = np.ascontiguousarray(turns[here].T)
        turned = sound[here].T.astype(np.complex64, order="C")
        for number in range(1, last + 1):
            turned *= turn
            turned.sum(axis=0, out=sums[number, here])
    lines = sums[2:]  # from half an order up they are in turn an order and what is beside it
    lines /= np.float32(block)
    return lines.reshape(_ORDERS.size, 2, -1)


def _agreed(
    lines: NDArray[np.complex64], rpm: FloatArray, step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Mean over the orders of the error that each shows, and its weight."""
    window = np.hanning(_WINDOW_STEPS + 2)[1:-1]
    smooth = convolve1d(lines.astype(np.complex128), window / window.sum())
    line, beside = smooth[:, 0], smooth[:, 1]
    # a quarter order away nothing turns with the engine, so what is there is noise
    noise = uniform_filter1d(beside.real**2 + beside.imag**2, _NOISE_STEPS, mode="nearest")
    # later against earlier: the angle is how far the assumed speed is off, whatever the phase
    # itself
    turned = np.roll(line, -_LAG_STEPS, axis=1) * np.conj(np.roll(line, _LAG_STEPS, axis=1))
    radian_per_part = 2.0 * np.pi * _ORDERS[:, np.newaxis] * rpm / 60.0 * 2.0 * _LAG_STEPS * step_s
    error = np.angle(turned) / radian_per_part
    over_noise = np.maximum(np.abs(turned) / np.maximum(noise, 1e-30) - 1.0, 0.0)
    # the inverse variance of each order's error: high orders turn faster and tell more
    weight = over_noise * radian_per_part**2 / _REMEMBERED * _SPARED
    # so far off it is another line that happens to pass by
    weight[np.abs(error) > _LARGEST] = 0.0
    total = weight.sum(axis=0)
    mean = (weight * error).sum(axis=0) / np.maximum(total, 1e-30)
    return mean, np.minimum(total, 1.0 / _SHARPEST**2)


def _smooth(error: FloatArray, weight: FloatArray) -> FloatArray:
    """Find the most likely random walk: least squares with a price on every step."""
    walk = 1.0 / _WALK**2
    diagonal = weight + 1.0 / _TOLD**2
    diagonal[1:] += walk
    diagonal[:-1] += walk
    band = np.zeros((2, error.size))
    band[0] = diagonal
    band[1, :-1] = -walk
    return np.asarray(solveh_banded(band, weight * error, lower=True), dtype=np.float64)


def _sigma(weight: FloatArray) -> FloatArray:
    """Give the standard deviation of that walk, as if the weight around a point were even.

    The inverse of a matrix with d + 2 w on its diagonal and -w beside it has
    1 / sqrt(d^2 + 4 d w) on its own.
    """
    around = uniform_filter1d(weight, _SIGMA_STEPS, mode="nearest") + 1.0 / _TOLD**2
    return np.hypot((around**2 + 4.0 * around / _WALK**2) ** -0.25, _SIGMA_FLOOR)
