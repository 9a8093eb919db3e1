"""Level and peak of the sound since somebody last looked."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

import numpy as np

from logger.arrays import Samples

_TOO_LOUD_DB = -1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Level and peak in dB re full scale, ``-inf`` in silence.

    A full-scale sine has the level 0 dB (AES17) and the peak 0 dB.
    """

    level_db: float
    peak_db: float

    @property
    def is_too_loud(self) -> bool:
        """Whether the peak is so near full scale that louder sound would be cut."""
        return self.peak_db > _TOO_LOUD_DB


class LevelMeter:
    """Feed it every block."""

    def __init__(self) -> None:
        self._peak = 0.0
        self._sum = 0.0
        self._count = 0

    def note(self, samples: Samples) -> None:
        """Take in a block [shape=(n_frames, n_channels)]."""
        flat = samples.ravel()
        self._peak = max(self._peak, float(np.abs(flat).max(initial=0.0)))
        self._sum += float(np.dot(flat, flat))
        self._count += flat.size

    def look(self) -> Level:
        """Give the level since the last look."""
        level = Level(
            level_db=_decibel(2.0 * self._sum / max(self._count, 1)),
            peak_db=_decibel(self._peak * self._peak),
        )
        self._peak, self._sum, self._count = 0.0, 0.0, 0
        return level


def _decibel(mean_square: float) -> float:
    return 10.0 * math.log10(mean_square) if mean_square > 0.0 else -math.inf
