"""The sound at even steps of crankshaft angle, in which an engine order keeps its pitch.

Values between samples are sums of four cubic B-splines (Unser, IEEE Signal Process. Mag. 16-6
(1999) 22). The filter that such a sum wants beforehand is left out, since it costs more than all
else: it is a plain factor on each frequency, so that whoever needs a level puts it on the spectrum.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.basics.arrays import FloatArray
from analysis.find.sound.working_copy import WorkingCopy

# judgement: in a quarter turn no engine changes its speed by enough to move a sample by 10 us
_EVEN_TURNS = 0.25
_AT_ONCE = 16_384  # judgement: points, so that they stay in the processor's cache; no value changes


def even_in_angle(
    copy: WorkingCopy,
    turns: FloatArray,
    time_s: FloatArray,
    first_turn: float,
    count: int,
    points_per_turn: int,
) -> NDArray[np.float32]:
    """Sound from ``first_turn`` on [shape=(count,)]; :func:`power_gain` says how loud it is.

    Parameters
    ----------
    turns, time_s : ndarray [shape=(n_times,)]
        Crankshaft turns, never falling, and when they were.
    points_per_turn : int
        A multiple of four.
    """
    points = round(points_per_turn * _EVEN_TURNS)
    knots = np.arange(-(-count // points) + 1, dtype=np.float64)
    position = copy.sample_rate_hz * np.interp(first_turn + _EVEN_TURNS * knots, turns, time_s)
    # one sample more before and two after: each value is a sum over four
    start = int(position[0]) - 1
    samples = copy.read(start, int(position[-1]) - start + 3)
    samples *= np.float32(1.0 / 6.0)
    position -= start
    # straight lines from knot to knot, so that a product of matrices gives all positions
    lines = np.column_stack([position[:-1], np.diff(position)])
    between = np.stack([np.ones(points), np.arange(points) / points])
    out = np.empty((knots.size - 1, points), dtype=np.float32)
    rows = max(1, _AT_ONCE // points)
    for first in range(0, out.shape[0], rows):
        part = slice(first, first + rows)
        _interpolated(samples, lines[part] @ between, out[part])
    return out.ravel()[:count]


def power_gain(part_of_rate: ArrayLike) -> NDArray[np.float32]:
    """By how much the power of a frequency, given as a part of the sample rate, comes out too low.

    It is the square of the filter left out (Unser's equation for the cubic B-spline).
    """
    turn = np.float32(2.0 * np.pi) * np.asarray(part_of_rate, dtype=np.float32)
    return np.asarray(np.square((np.float32(2.0) + np.cos(turn)) / np.float32(3.0)))


def _interpolated(samples: NDArray[np.float32], at: FloatArray, out: NDArray[np.float32]) -> None:
    """Six times the sum of the splines around each position, by Horner's rule."""
    index = at.astype(np.int64)  # none is negative
    part = (at - index).astype(np.float32)
    here = samples.take(index)  # faster than an index in brackets
    before = samples.take(index - 1) - here
    index += 1
    after = samples.take(index) - here
    index += 1
    bend = before + after
    np.subtract(samples.take(index), here, out=out)
    out -= before
    after *= np.float32(3.0)
    out -= after
    out *= part  # the cubic term, and from here on each term of a lower power joins it
    out += np.float32(3.0) * bend
    out *= part
    out += after
    out -= np.float32(3.0) * before
    out *= part
    out += bend
    here *= np.float32(6.0)
    out += here
