"""How late sound came, window by window: arrival minus session time of a block's last frame.

Sound cannot come early: the smallest lag of many blocks is the true one, the rest is waiting.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from array import array
from collections import deque
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from logger.recording.clock_fit import ClockFit, fit_clock, no_drift

# judgement: as long as a sound system holds a block back for a while, and short enough for the
# drift of a card to be less than wander; the lag of so many windows is what is usual now.
WINDOW_S = 1.0
_MEMORY_WINDOWS = 10
# judgement: of a lag; by less it is wander, and no backlog. Half of the least gap that is told.
LEAST_FALL_S = 0.025


@dataclass(slots=True)
class LagWindow:
    """What is known of the blocks since the last window was judged; lags are infinite before any.

    ``end_s`` is when it is to be judged, and ``flagged_frame`` where the sound system first said
    that it lost sound.
    """

    lag_s: float = math.inf  # the smallest, and the session time of its block
    lag_at_s: float = 0.0
    higher_lag_s: float = math.inf  # when the window was opened or last prolonged
    end_s: float = math.inf
    backlog_lag_s: float = math.inf  # while this falls, sound that was held back comes
    backlog_end_frame: int = 0
    flagged_frame: int | None = None

    @property
    def is_empty(self) -> bool:
        """Whether no block came yet."""
        return math.isinf(self.lag_s)

    def note(self, lag_s: float, arrived_s: float, elapsed_s: float, frame_count: int) -> None:
        """Take a block; see :meth:`Lags.note`."""
        if self.is_empty:
            self.higher_lag_s = self.backlog_lag_s = lag_s
            self.end_s = arrived_s + WINDOW_S
        elif lag_s < self.backlog_lag_s - LEAST_FALL_S:
            self.backlog_lag_s, self.backlog_end_frame = lag_s, frame_count
        if lag_s < self.lag_s:
            self.lag_s, self.lag_at_s = lag_s, elapsed_s

    @property
    def is_falling(self) -> bool:
        """Whether what was held back is still coming in."""
        return self.lag_s < self.higher_lag_s - LEAST_FALL_S

    def prolong(self, arrived_s: float) -> None:
        """Judge it a window later."""
        self.end_s = arrived_s + WINDOW_S
        self.higher_lag_s = self.lag_s


class Lags:
    """The window that is filled, and the smallest lag of every window that was judged.

    Attributes
    ----------
    last_good_frame : int
        Up to there, sound came as usual or was judged.
    late_lag_s : float
        The smallest since then; infinite where none came.
    """

    def __init__(self) -> None:
        self.window = LagWindow()
        self.last_good_frame = 0
        self.late_lag_s = math.inf
        self._late_from_s = self._arrived_s = 0.0
        self._lags_s = array("d")
        self._at_s = array("d")  # session time of each
        self._end_frames: deque[int] = deque(maxlen=_MEMORY_WINDOWS)
        self._flagged_before: int | None = None  # in the window before

    def __len__(self) -> int:
        return len(self._lags_s)

    @property
    def usual_s(self) -> float:
        """Smallest lag of the last windows; infinite before any was judged."""
        return min(self._lags_s[-_MEMORY_WINDOWS:], default=math.inf)

    @property
    def missing_s(self) -> float:
        """How much later the blocks of this window came than those before."""
        return max(0.0, self.window.lag_s - self.usual_s)

    @property
    def first_flag(self) -> int | None:
        """Where the sound system said that it lost sound, in this window or the one before."""
        before = self._flagged_before
        return self.window.flagged_frame if before is None else before

    @property
    def is_late(self) -> bool:
        """Whether any sound came since the last that was good."""
        return not math.isinf(self.late_lag_s)

    @property
    def late_for_s(self) -> float:
        """For how long sound has come late by now."""
        return self._arrived_s - self._late_from_s

    def note(self, arrived_s: float, elapsed_s: float, frame_count: int) -> None:
        """Take a block that ends at session time ``elapsed_s``, ``frame_count`` frames in all."""
        self._arrived_s = arrived_s
        lag_s = arrived_s - elapsed_s
        self.window.note(lag_s, arrived_s, elapsed_s, frame_count)
        if lag_s < self.usual_s + LEAST_FALL_S:
            self.note_good(frame_count)
            return
        if not self.is_late:
            self._late_from_s = arrived_s
        self.late_lag_s = min(self.late_lag_s, lag_s)

    def note_good(self, frame_count: int) -> None:
        """Take note that sound up to here came as usual, or was judged."""
        self.last_good_frame = frame_count
        self.late_lag_s = math.inf

    def note_flag(self, frame: int) -> None:
        """Take note that the sound system said that it lost sound here."""
        if self.window.flagged_frame is None:
            self.window.flagged_frame = frame

    def late_since(self, missing_s: float) -> tuple[int, int]:
        """Tell how many windows before this one were about as late, and after which frame.

        That is nearer to as late as now than to on time.
        """
        early_s = self.usual_s + 0.5 * missing_s
        late = takewhile(lambda lag_s: lag_s > early_s, self._lags_s[: -_MEMORY_WINDOWS - 1 : -1])
        late_windows = sum(1 for _ in late)
        return late_windows, self._end_frames[-1 - late_windows]

    def close(self, end_frame: int) -> None:
        """Count the window among those that were judged, and open another."""
        self._end_frames.append(end_frame)
        self._at_s.append(self.window.lag_at_s)
        self._lags_s.append(self.window.lag_s)
        self._flagged_before = self.window.flagged_frame
        self.window = LagWindow()

    def shorten(self, by_s: float, from_window: int) -> None:
        """Take from session time what a gap was told too long, from the window where it was.

        Less than nothing gives it what is missing.
        """
        self.window.lag_s += by_s
        self.window.lag_at_s -= by_s
        for at in range(from_window, len(self)):
            self._lags_s[at] += by_s
            self._at_s[at] -= by_s

    def fit(self) -> ClockFit:
        """Fit one line through the whole recording."""
        if not self._lags_s:
            return no_drift(self.window.lag_s, np.zeros(0))
        return fit_clock(np.array(self._at_s), np.array(self._lags_s))
