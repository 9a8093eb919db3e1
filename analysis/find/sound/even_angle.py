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
_AT_ONCE = 24_576  # judgement: points, so that they stay in the processor's cache; no value changes


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
    gain = np.multiply(part_of_rate, 2.0 * np.pi, dtype=np.float32)
    np.cos(gain, out=gain)
    gain += 2.0
    gain *= np.float32(1.0 / 3.0)
    return np.square(gain, out=gain)


def _interpolated(samples: NDArray[np.float32], at: FloatArray, out: NDArray[np.float32]) -> None:
    """Sum of the splines around each position.

    That is the straight line from the sample before to the one after, and a sixth of the bend at
    each, by the cube of how near it is: Unser's polynomials, put together again.
    """
    index = at.astype(np.int64)  # none is negative
    part = (at - index).astype(np.float32)
    before = samples.take(index)  # faster than an index in brackets
    bend_before = samples.take(index - 1)
    index += 1
    rise = samples.take(index)
    index += 1
    bend_after = samples.take(index)
    bend_after -= rise
    rise -= before
    bend_after -= rise
    bend_before -= before
    bend_before += rise
    # in place from here on, since new arrays cost as much as what is worked out
    away = np.float32(1.0) - part
    bend_before *= away
    away *= away
    bend_before *= away
    bend_after *= part
    before += np.multiply(rise, part, out=rise)
    part *= part
    bend_after *= part
    bend_before += bend_after
    bend_before *= np.float32(1.0 / 6.0)
    np.add(before, bend_before, out=out)
