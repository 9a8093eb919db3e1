"""Flat tops: crests cut off at one level, at full scale or at any other.

Sound seldom comes near its own highest peak: a crest passes through the last part in a thousand
within a few samples. Sound that was cut off has its crests piled up there, and turning it down
afterwards leaves them so.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

# judgement: a sample this near to full scale was clipped; a lower limit would accuse loud sound.
FULL_SCALE = 0.999
# judgement: rounding to 16 bits, even 20 dB down, stays within it
_AT_THE_TOP = 0.998
# judgement: the stretch beneath, in which a crest that was not cut spends more time than at its top
_BENEATH = 0.95
# judgement: a pure tone spends 0.25 as long above the first as between both (their arc cosines);
# 40 generated engines up to 0.4, cut ones over 4
_PILED_UP = 0.6
_LEAST_PILE = 10  # samples; judgement: fewer are chance


class FlatTops:
    """Count samples at the highest level met, block by block."""

    def __init__(self) -> None:
        self.peak = 0.0
        self._at_full_scale = self._at_top = self._beneath = 0

    def add(self, block: NDArray[np.float32], top: float) -> None:
        """Take in one block whose highest absolute value is ``top``."""
        if top * _AT_THE_TOP > self.peak:
            self._at_top = self._beneath = 0  # what was the top until now lies beneath, or lower
        self.peak = max(self.peak, top)
        # nothing in it comes near the top: most blocks end here
        if top < _BENEATH * self.peak or self.peak == 0.0:
            return
        least = np.float32(_BENEATH * self.peak)
        # the few that count for anything; an absolute value of every sample would cost more
        size = np.abs(block[(block >= least) | (block <= -least)])
        at_top = int(np.count_nonzero(size >= _AT_THE_TOP * self.peak))
        self._at_top += at_top
        self._beneath += size.size - at_top
        self._at_full_scale += int(np.count_nonzero(size >= FULL_SCALE))

    @property
    def near_the_peak(self) -> int:
        """How many samples came within a twentieth of the peak."""
        return self._at_top + self._beneath

    @property
    def cut_off(self) -> int:
        """How many samples were cut off, at full scale or lower."""
        is_piled_up = self._at_top >= max(_LEAST_PILE, _PILED_UP * self._beneath)
        return self._at_top if is_piled_up else self._at_full_scale
