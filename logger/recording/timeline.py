"""Session time, that of the sound: frames by the nominal rate, and gaps where it was lost."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from logger.arrays import FloatArray
from logger.folder.gaps import SoundGap


class Timeline:
    """The frames that came, and the gaps told between them, in their order."""

    def __init__(self, sample_rate_hz: int) -> None:
        self.frame_count = 0
        self.gaps: list[SoundGap] = []
        self._rate_hz = sample_rate_hz
        self._gap_s = 0.0

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the last frame."""
        return self.frame_count / self._rate_hz + self._gap_s

    def frame_session_s(self, frames: FloatArray) -> FloatArray:
        """Session time of positions in the recorded sound."""
        starts = [gap.after_frame for gap in self.gaps]
        before_s = np.cumsum([0.0, *(gap.duration_s for gap in self.gaps)])
        before = np.searchsorted(starts, frames, side="right")
        return np.asarray(frames / self._rate_hz + before_s[before])

    def at_frame(self, frame: float) -> float:
        """Session time of one place in the sound; behind the gap where there is one."""
        return float(self.frame_session_s(np.array([frame]))[0])

    def not_before_a_gap(self, frame: int) -> int:
        """Give the place, or that of the last gap: none is told before one told already."""
        return max([frame, *(gap.after_frame for gap in self.gaps[-1:])])

    def has_gap_at(self, frame: int) -> bool:
        """Whether the last gap is there: two without sound between them are one."""
        return bool(self.gaps) and self.gaps[-1].after_frame == frame

    def tell(self, after_frame: int, missing_s: float) -> SoundGap:
        """Tell a gap; one at the place of the last one shows that it was longer than it seemed."""
        told_s = self.gaps.pop().duration_s if self.has_gap_at(after_frame) else 0.0
        self.gaps.append(SoundGap(after_frame=after_frame, duration_s=told_s + missing_s))
        self._gap_s += missing_s
        return self.gaps[-1]

    def give_back(self, by_s: float) -> SoundGap:
        """Shorten the last gap, by all of it at most; one of no length is no longer kept."""
        gap = self.gaps.pop()
        gap = replace(gap, duration_s=gap.duration_s - by_s)
        if gap.duration_s > 0.0:
            self.gaps.append(gap)
        self._gap_s -= by_s
        return gap
