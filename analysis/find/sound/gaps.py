"""Stretches in which no sound was recorded: whatever looks into one is no evidence of anything."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundGaps:
    """Gaps in order and apart from each other; ``start_s``, ``end_s`` [shape=(n_gaps,)].

    ``smeared_s`` is how far filters carry an edge of a gap into the sound beside it.
    """

    start_s: FloatArray
    end_s: FloatArray
    smeared_s: float = 0.0

    @classmethod
    def between(
        cls, gaps_s: Iterable[tuple[float, float]], duration_s: float, smeared_s: float = 0.0
    ) -> "SoundGaps":
        """Take gaps in any order, joined where they overlap and cut to the sound's length."""
        joined: list[tuple[float, float]] = []
        for start_s, end_s in sorted(gaps_s):
            start_s, end_s = max(start_s, 0.0), min(end_s, duration_s)
            if joined and start_s <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], end_s))
            elif end_s > start_s:
                joined.append((start_s, end_s))
        ends = np.array(joined, dtype=np.float64).reshape(-1, 2)
        return cls(start_s=ends[:, 0], end_s=ends[:, 1], smeared_s=smeared_s)

    @property
    def count(self) -> int:
        """How many there are."""
        return int(self.start_s.size)

    @property
    def lost_s(self) -> float:
        """How long all of them last."""
        return float((self.end_s - self.start_s).sum())

    def touch(self, from_s: FloatArray, to_s: FloatArray) -> BoolArray:
        """Whether a window holds any part of a gap; ``from_s`` <= ``to_s``, of one shape."""
        ended = np.searchsorted(self.end_s + self.smeared_s, from_s, side="right")
        begun = np.searchsorted(self.start_s - self.smeared_s, to_s, side="left")
        return np.asarray(begun > ended)
