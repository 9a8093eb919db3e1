"""The fixed rpm bins that every drive shares, so that two drives can be laid side by side.

Bins are 1 % wide at every speed: a resonance of given damping spans the same number of bins
wherever an order crosses it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray

# judgement: a narrow drone of 7 % still spans seven bins; finer ones hold too few moments of a
# sweep. 1.2 % moves a peak by 0.1 % and a rise by 0.15 dB. All drives must share these two.
BIN_RATIO = 1.01
_FIRST_RPM = 300.0


def bin_of(rpm: FloatArray) -> IntArray:
    """Index of the bin whose centre is nearest on a log scale; ``rpm`` > 0, any shape."""
    steps = np.log(rpm / _FIRST_RPM) / np.log(BIN_RATIO)
    return np.asarray(np.rint(steps), dtype=np.int64)


def bin_centre_rpm(index: IntArray) -> FloatArray:
    """Engine speed at the middle of each bin, any shape."""
    return _FIRST_RPM * BIN_RATIO ** index.astype(np.float64)
