"""A drive cut into passes: uninterrupted climbs and falls of engine speed, each in one gear.

A rest at a steady speed is a pass of its own: the driver's foot, and so the level, is another
there than in the climb before or after.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.find.sound.order_tracking import HOP_S, REVOLUTIONS

# judgement: a foot wobbles by less. Smaller parts cut one sweep into many, larger ones take a climb
# and a fall for one. 20 % more of _STEADY_OVER_S moves a rise by 0.2 dB, of the others nothing.
_TURN = 0.06  # engine speed must come back by this part before a new pass begins
_LONGEST_GAP_S = 1.0  # in the sound or the engine speed
_STEADY = 0.004  # engine speed that changes by less than this part per second stands still
_STEADY_OVER_S = 2.0
_NO_GEAR = -9.0
_SWEEP = 0.12  # a pass over less than this part of engine speed is no sweep


def pass_of(time_s: FloatArray, rpm: FloatArray, gear: FloatArray) -> IntArray:
    """Give the number of the pass each frame belongs to; all arrays [shape=(n_frames,)].

    A pass ends where engine speed has turned back by 6 %, where the gear changes, where the
    engine comes to a steady speed or leaves it, and at a gap of more than a second. A shorter
    gap is a hiccup of the logger, of which the driver knew nothing; after a longer one the
    microphone may have been plugged in again, at another gain.
    """
    passes = np.zeros(time_s.size, dtype=np.int64)
    if time_s.size == 0:
        return passes
    known_gear = np.where(np.isfinite(gear), gear, _NO_GEAR)
    window_s = 60.0 * REVOLUTIONS / np.minimum(rpm[1:], rpm[:-1])  # no frame reaches into a gap
    breaks = np.diff(time_s) > _LONGEST_GAP_S + 1.25 * window_s
    breaks |= np.diff(known_gear) != 0
    breaks |= np.diff(_at_rest(rpm).astype(np.int64)) != 0
    starts = np.concatenate([[0], np.flatnonzero(breaks) + 1, [time_s.size]])
    number = 0
    for first, last in pairwise(starts):
        turns = _turning_points(np.log(rpm[first:last]))
        for begin, end in pairwise(turns):
            passes[first + begin : first + end] = number
            number += 1
    return passes


def sweeps(pass_index: IntArray, rpm: FloatArray) -> NDArray[np.bool_]:
    """Which points belong to a pass that goes over at least 12 % of engine speed."""
    low, high = ends_of_pass(pass_index, rpm)
    return np.asarray(high > (1.0 + _SWEEP) * low)


def ends_of_pass(pass_index: IntArray, rpm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest engine speed of the pass of each point."""
    count = int(pass_index.max(initial=-1)) + 1
    low, high = np.full(count, np.inf), np.zeros(count)
    np.minimum.at(low, pass_index, rpm)
    np.maximum.at(high, pass_index, rpm)
    return low[pass_index], high[pass_index]


def _at_rest(rpm: FloatArray) -> NDArray[np.bool_]:
    reach = round(0.5 * _STEADY_OVER_S / HOP_S)
    padded = np.pad(np.log(rpm), reach, mode="edge")
    # over two seconds: from frame to frame the rounding of a log moves more than the foot
    change = np.abs(padded[2 * reach :] - padded[: -2 * reach])
    return np.asarray(change < _STEADY * _STEADY_OVER_S)


def _turning_points(log_rpm: FloatArray) -> list[int]:
    """List the indices at which a new climb or fall begins, with the first index and the length."""
    points = [0]
    high = low = 0
    rising: bool | None = None
    speeds = log_rpm.tolist()  # a list gives its values much faster than an array
    for index, speed in enumerate(speeds):
        if speed > speeds[high]:
            high = index
        if speed < speeds[low]:
            low = index
        # an end is only known once engine speed has come back from it; until then it may go on
        if rising is not False and speed < speeds[high] - _TURN:
            if rising:
                points.append(high)
            rising, low = False, index
        elif rising is not True and speed > speeds[low] + _TURN:
            if rising is False:
                points.append(low)
            rising, high = True, index
    return [*points, log_rpm.size]
