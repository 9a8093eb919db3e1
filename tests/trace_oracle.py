"""The true engine speed of a recording whose rpm trace is near the truth only.

In short windows along the trace, the sound is turned back by the trace's own crank angle; how far
the trace is off there is where all half orders together stand out most of the gaps between them.
It shares nothing with the analysis, and cannot mistake one order for another, for it looks only
near the trace.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from scipy import signal

from analysis.basics.arrays import FloatArray, IntArray

_RATE_HZ = 4000.0
_REACH, _STEP = 0.12, 0.002
_ERRORS = np.arange(-_REACH, _REACH + 0.5 * _STEP, _STEP)
_HALF_ORDERS = np.arange(0.5, 10.01, 0.5)
_GRID = np.arange(0.05, 12.0, 0.05)
_HALF_WINDOW_REVOLUTIONS, _LONGEST_HALF_WINDOW_S = 5.0, 0.2
_COST = 0.05  # dB for each step between two moments, squared


def true_speed(
    samples: FloatArray,
    rate_hz: float,
    trace_s: FloatArray,
    trace_rpm: FloatArray,
    at_s: FloatArray,
) -> FloatArray:
    """Engine speed by the sound at each moment, within 12 % of the trace [shape=(n,)]."""
    step = round(rate_hz / _RATE_HZ)
    low = signal.resample_poly(samples, 1, step)
    low_hz = rate_hz / step
    turns_per_s = np.interp(np.arange(low.size) / low_hz, trace_s, trace_rpm) / 60.0
    turns = np.cumsum(turns_per_s) / low_hz
    score = np.array([_evidence(low, turns, low_hz, float(moment)) for moment in at_s])
    return np.asarray(np.interp(at_s, trace_s, trace_rpm) * (1.0 + _ERRORS[_smoothest(score)]))


def _evidence(low: FloatArray, turns: FloatArray, low_hz: float, at_s: float) -> FloatArray:
    """How far half orders stand out, in dB, for each error of the trace [shape=(n_errors,)]."""
    middle = min(int(at_s * low_hz), low.size - 2)
    per_s = (turns[middle + 1] - turns[middle]) * low_hz
    half = int(min(_LONGEST_HALF_WINDOW_S, _HALF_WINDOW_REVOLUTIONS / per_s) * low_hz)
    here = slice(max(0, middle - half), middle + half)
    angle = turns[here] - turns[middle]
    windowed = low[here] * np.hanning(angle.size)
    turned = np.exp(-2j * np.pi * _GRID[:, np.newaxis] * angle)
    level_db = 20.0 * np.log10(np.abs(turned @ windowed) + 1e-9)

    def at(orders: FloatArray) -> FloatArray:
        places = orders[:, np.newaxis] * (1.0 + _ERRORS)
        return np.asarray(np.interp(places, _GRID, level_db))

    gaps = 0.5 * (at(_HALF_ORDERS - 0.25) + at(_HALF_ORDERS + 0.25))
    return np.asarray((at(_HALF_ORDERS) - gaps).mean(axis=0))


def _smoothest(score: FloatArray) -> IntArray:
    """Index of the error at each moment, by dynamic programming [shape=(n,)]."""
    index = np.arange(_ERRORS.size)
    cost = _COST * (index[:, np.newaxis] - index) ** 2
    value, came_from = score[0], []
    for row in score[1:]:
        ways = value - cost
        came_from.append(ways.argmax(axis=1))
        value = ways.max(axis=1) + row
    path = [int(value.argmax())]
    for back in reversed(came_from):
        path.append(int(back[path[-1]]))
    return np.array(path[::-1])
