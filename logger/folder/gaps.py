"""Put the gaps of a recording back, as zeros, so that time is true for whoever reads the sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from logger.arrays import Samples

MOST_FRAMES = 1 << 48
# judgement: a sound that breaks so often is not worth a look, and takes minutes; refused
MOST_GAPS = 100_000
LONGEST_GAP_S = 86_400.0

_BLOCK_FRAMES = 480_000  # 10 s at 48 kHz; judgement: memory against calls, no value changes


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundGap:
    """Sound that never came: after how many recorded frames, and how much."""

    after_frame: int
    duration_s: float


class GapFiller:
    """Fill the gaps of a sound of ``recorded_frames`` frames; those outside it are left out."""

    def __init__(
        self, gaps: Sequence[SoundGap], sample_rate_hz: float, recorded_frames: int
    ) -> None:
        inside = sorted(
            (gap for gap in gaps if gap.after_frame < recorded_frames),
            key=lambda gap: gap.after_frame,
        )
        self._gaps = [(gap.after_frame, round(gap.duration_s * sample_rate_hz)) for gap in inside]
        # each begins later by all that was filled in before it
        filled = [0, *accumulate(length for _, length in self._gaps)]
        self.frame_count = recorded_frames + filled[-1]
        self.gaps_s = tuple(
            ((after + before) / sample_rate_hz, (after + before + length) / sample_rate_hz)
            for (after, length), before in zip(self._gaps, filled, strict=False)
        )

    def fill(self, blocks: Iterator[Samples]) -> Iterator[Samples]:
        """Give the blocks [shape=(n,)] with zeros where sound is missing."""
        left = deque(self._gaps)
        at = 0
        for whole in blocks:
            block = whole
            while left and left[0][0] <= at + block.size:
                after, length = left.popleft()
                before, block = np.split(block, [max(0, after - at)])
                at += before.size
                if before.size:
                    yield before
                yield from _zeros(length)
            at += block.size
            if block.size:
                yield block


def _zeros(count: int) -> Iterator[Samples]:
    while count > 0:
        size = min(count, _BLOCK_FRAMES)
        yield np.zeros(size, dtype=np.float32)
        count -= size
