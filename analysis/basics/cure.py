"""What a cure is: the definition and the numbers that sizing, comparison and pages share.

A drone is cured when its order is ``CURED_DB`` down twice over: in its highest level between
``NEAR_LOW`` and ``NEAR_HIGH`` times the drone's rpm, and in its mean square over the drone's band;
and when its highest level in the rest of the driving range is no more than ``ELSEWHERE_DB`` up.

The highest level is what sizing foretells and what a promise is kept by. A comparison asks for
both, because the mean alone can hide a peak that is left. Sizing need not ask for the mean: within
a band nothing is more than 3 dB below its peak before the work, and after it a branch leaves the
mean further below the highest level than that.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray

# Half as loud is about 10 dB; 3 dB more is what most people just notice in noise.
# Common practice, no source.
CURED_DB = -10.0
ELSEWHERE_DB = 3.0

# The drone's own stretch, as parts of its rpm: what is loud beyond it is another engine speed's.
# judgement: 0.85 is two half-power widths below a drone of usual width. A narrower stretch lets a
# branch pass that only moves the drone; a wider one counts the neighbour's level. 20 % farther out
# moves a length by 2 mm below and 20 mm above, the outlook by 0.1 and 0.6 dB.
NEAR_LOW = 0.85
NEAR_HIGH = 1.18


def is_near(rpm: FloatArray, peak_rpm: float) -> BoolArray:
    """Mark the engine speeds, or frequencies, that count as the drone's own, any shape."""
    return np.asarray((rpm >= NEAR_LOW * peak_rpm) & (rpm <= NEAR_HIGH * peak_rpm))
