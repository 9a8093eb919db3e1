"""The clock of a session: frames that came, gaps between them, and the computer's clock beside.

Session time is the time of the sound: frames divided by the nominal rate, plus the gaps in which
sound was lost. What else was measured carries :func:`time.perf_counter` and is placed on it here.

A sound system may lose sound without saying so, and it may hold blocks back and then deliver them
all at once or little by little. So each block's *lag* is watched: arrival minus session time of its
last frame. Within a second the smallest lag is that of a block nobody held back. A lag that rises
faster than clocks drift is lost sound; one that creeps is the drift of the sound card against the
computer; while it falls, sound that was held back is still coming.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from array import array
from collections import deque
from dataclasses import dataclass, replace
from itertools import takewhile

import numpy as np

from logger.arrays import FloatArray
from logger.folder.gaps import SoundGap
from logger.recording.clock_fit import ClockFit, fit_clock, no_drift

# judgement, all of these: arrival wanders by up to 30 ms on ordinary systems and sound cards are
# off by 100 ppm or so. Smaller limits call that wander lost sound, larger ones miss a short loss;
# either moves the times after it by less than the limit.
_WINDOW_S = 1.0
_MEMORY_WINDOWS = 10
_LEAST_GAP_S = 0.05
_LEAST_FALL_S = 0.5 * _LEAST_GAP_S  # of a lag: by less it is wander, and no backlog
_LEAST_FLAGGED_GAP_S = 0.02  # where the sound system itself says that it lost some
# judgement: a stream that is moved to another source always loses some, mostly less than the limit
# above; within so many windows after it is known, this much is lost sound and no wander.
_LEAST_MOVED_GAP_S = 0.01
_MOVED_WINDOWS = 3
_ELSEWHERE_WINDOWS = 60  # in place of _SETTLED_WINDOWS: by then a card's drift is a few ms
# judgement: so many windows after a gap, sound that comes earlier than before it shows that the gap
# was told too long; later, the wander of an hour would be taken for it.
_SETTLED_WINDOWS = 10
_LEAST_GIVEN_BACK_S = 0.002  # judgement: less than any arrival is known to, and not worth telling
# judgement: so much earlier than ever since the sound system found its pace no sound comes: it was
# given twice, as by a sound server that moves a stream. Less is wander; more stays in the sound.
_LEAST_TOO_EARLY_S = 0.1
_LEAST_TOO_EARLY_STILL_S = 0.01  # the same, right behind sound that was given twice
_LEAST_WINDOWS = 5
_FEW_BLOCKS_S = 0.5  # at the end, in less than this all blocks may have been held back
_LEAST_LAST_GAP_S = 0.2
# judgement: a card's own buffer is shorter than this and drops what is oldest. So much at once is
# from a sound server's queue, which keeps what is oldest and drops what comes when it is full.
_LONG_BACKLOG_S = 1.0


@dataclass(slots=True)
class _Window:
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


class SoundClock:
    """Feed it every block; it tells gaps, and what time it is in the session."""

    def __init__(self, sample_rate_hz: int) -> None:
        self.gaps: list[SoundGap] = []
        self._rate_hz = sample_rate_hz
        self._frames = 0
        self._gap_s = 0.0
        self._arrived_s = 0.0
        self._window = _Window()
        # of every window that was judged: its smallest lag, and the session time of that
        self._lags_s = array("d")
        self._lags_at_s = array("d")
        self._recent_end_frame: deque[int] = deque(maxlen=_MEMORY_WINDOWS)
        self._flagged_before: int | None = None  # in the window before
        self._last_good_frame = 0
        self._late_lag_s = math.inf  # smallest since the last good frame
        self._late_from_s = 0.0
        self._moved_windows = 0  # how many more to look at closely
        self._is_repeated = False  # what came last was given twice
        self._unsettled: list[int] = []  # of the last gaps, in which window each was told
        self._before_gap_lag_s = math.inf  # smallest shortly before the first unsettled gap
        self._windows_since_gap = 0
        self._settled_windows = _SETTLED_WINDOWS

    @property
    def has_begun(self) -> bool:
        """Whether any sound came yet."""
        return self._frames > 0

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the last block."""
        return self._frames / self._rate_hz + self._gap_s

    def note(
        self, frame_count: int, arrived_s: float, *, is_flagged: bool = False
    ) -> SoundGap | None:
        """Count a block of ``frame_count`` frames that was there at ``arrived_s``.

        ``is_flagged`` when the sound system says that it lost sound before the block or in it;
        that alone makes no gap.
        """
        gap = self._end_window(arrived_s) if arrived_s >= self._window.end_s else None
        window = self._window
        if is_flagged and window.flagged_frame is None:
            window.flagged_frame = self._frames
        self._frames += frame_count
        self._arrived_s = arrived_s
        # sound cannot arrive early: the smallest lag of many blocks is the true one, the rest is
        # waiting
        lag_s = arrived_s - self.elapsed_s
        if math.isinf(window.lag_s):
            window.higher_lag_s = window.backlog_lag_s = lag_s
            window.end_s = arrived_s + _WINDOW_S
        elif lag_s < window.backlog_lag_s - _LEAST_FALL_S:
            window.backlog_lag_s, window.backlog_end_frame = lag_s, self._frames
        if lag_s < window.lag_s:
            window.lag_s, window.lag_at_s = lag_s, self.elapsed_s
        if lag_s < self._usual_lag_s + _LEAST_FALL_S:
            self._note_good()
        else:
            self._late_from_s = arrived_s if math.isinf(self._late_lag_s) else self._late_from_s
            self._late_lag_s = min(self._late_lag_s, lag_s)
        return gap

    def note_moved(self, *, is_elsewhere: bool) -> None:
        """Take note that the sound system moved the stream a moment ago, or back to its source.

        All sound of another source may come later than that of its own. So what seems lost by the
        move is only settled when the stream is back.
        """
        self._moved_windows = _MOVED_WINDOWS
        self._windows_since_gap = 0
        self._settled_windows = _ELSEWHERE_WINDOWS if is_elsewhere else _SETTLED_WINDOWS

    def too_early_s(self, frame_count: int, arrived_s: float) -> float:
        """Tell how much of a block that :meth:`note` was not told yet cannot be new sound."""
        if len(self._lags_s) < _LEAST_WINDOWS:
            return 0.0
        least_s = self._usual_lag_s
        if self._unsettled:
            told_s = sum(gap.duration_s for gap in self.gaps[-len(self._unsettled) :])
            least_s = self._before_gap_lag_s - told_s
        duration_s = frame_count / self._rate_hz
        early_s = least_s - (arrived_s - self.elapsed_s - duration_s)
        least_early_s = _LEAST_TOO_EARLY_STILL_S if self._is_repeated else _LEAST_TOO_EARLY_S
        self._is_repeated = early_s >= least_early_s
        return min(early_s, duration_s) if self._is_repeated else 0.0

    def judge(self) -> SoundGap | None:
        """Judge what came last, though it may be few blocks: it is over, or nothing comes now."""
        window = self._window
        if math.isinf(window.lag_s):
            return None
        least_s = self._least_gap_s
        if not math.isinf(self._late_lag_s):
            if self._arrived_s - self._late_from_s < _FEW_BLOCKS_S:
                least_s = _LEAST_LAST_GAP_S
            if self._late_lag_s - self._usual_lag_s >= least_s:
                window.lag_s, window.lag_at_s = self._late_lag_s, self.elapsed_s
        gap = self._close_window(least_s)
        self._note_good()
        return gap

    def session_s(self, perf_s: float) -> float:
        """Session time of a moment, as well as is known now; 0 before the first block."""
        if not self.has_begun:
            return 0.0
        return perf_s - min(self._window.lag_s, self._usual_lag_s)

    def frame_session_s(self, frames: FloatArray) -> FloatArray:
        """Session time of positions in the recorded sound."""
        starts = [gap.after_frame for gap in self.gaps]
        before_s = np.cumsum([0.0, *(gap.duration_s for gap in self.gaps)])
        before = np.searchsorted(starts, frames, side="right")
        return np.asarray(frames / self._rate_hz + before_s[before])

    def at_frame(self, frame: float) -> float:
        """Session time of one place in the sound; behind the gap where there is one."""
        return float(self.frame_session_s(np.array([frame]))[0])

    def fit(self) -> ClockFit:
        """Fit the whole recording."""
        if not self._lags_s:
            return no_drift(self._window.lag_s, np.zeros(0))
        return fit_clock(np.array(self._lags_at_s), np.array(self._lags_s))

    @property
    def _usual_lag_s(self) -> float:
        """Smallest lag of the last windows; infinite before any was judged."""
        return min(self._lags_s[-_MEMORY_WINDOWS:], default=math.inf)

    @property
    def _missing_s(self) -> float:
        """How much later the blocks of this window came than those before."""
        return max(0.0, self._window.lag_s - self._usual_lag_s)

    @property
    def _least_gap_s(self) -> float:
        if self._moved_windows:
            return _LEAST_MOVED_GAP_S
        return _LEAST_GAP_S if self._first_flag is None else _LEAST_FLAGGED_GAP_S

    @property
    def _first_flag(self) -> int | None:
        """Where the sound system said that it lost sound, in this window or the one before."""
        before = self._flagged_before
        return self._window.flagged_frame if before is None else before

    def _note_good(self) -> None:
        """Take note that sound up to here came as usual, or was judged."""
        self._last_good_frame = self._frames
        self._late_lag_s = math.inf

    def _end_window(self, arrived_s: float) -> SoundGap | None:
        """Close the window, or prolong it while what is missing is still coming."""
        window = self._window
        is_falling = window.lag_s < window.higher_lag_s - _LEAST_FALL_S
        if is_falling and self._missing_s >= self._least_gap_s:
            window.end_s = arrived_s + _WINDOW_S
            # still falling: what was held back is coming in, so the loss is not yet known
            window.higher_lag_s = window.lag_s
            return None
        return self._close_window(self._least_gap_s)

    def _close_window(self, least_gap_s: float) -> SoundGap | None:
        gap, window = None, self._window
        self._windows_since_gap += 1
        if self._windows_since_gap > self._settled_windows:
            self._unsettled.clear()
        if self._missing_s >= least_gap_s:
            gap = self._note_gap(self._missing_s)
        elif self._unsettled:
            gap = self._give_back(self._before_gap_lag_s - window.lag_s)
        self._moved_windows = max(0, self._moved_windows - 1)
        self._recent_end_frame.append(self._frames)
        self._lags_at_s.append(window.lag_at_s)
        self._lags_s.append(window.lag_s)
        self._flagged_before = window.flagged_frame
        self._window = _Window()
        return gap

    def _note_gap(self, missing_s: float) -> SoundGap:
        """Note a gap; one at the place of the last one shows that it was longer than it seemed."""
        late_windows, after_frame = 0, self._gap_after_frame(missing_s)
        if self._moved_windows and missing_s < _LEAST_GAP_S:
            # too small to be seen in one block: it was lost before the windows that were about as
            # late, which are those nearer to as late as now than to on time
            early_s = self._usual_lag_s + 0.5 * missing_s
            late = takewhile(
                lambda lag_s: lag_s > early_s, self._lags_s[: -_MEMORY_WINDOWS - 1 : -1]
            )
            late_windows = sum(1 for _ in late)
            after_frame = self._recent_end_frame[-1 - late_windows]
            # gaps stay in order: none is told before one that was told already
            after_frame = max([after_frame, *(gap.after_frame for gap in self.gaps[-1:])])
        window = len(self._lags_s) - late_windows
        duration_s = missing_s
        if self.gaps and self.gaps[-1].after_frame == after_frame:
            # two gaps without sound between them are one
            duration_s += self.gaps.pop().duration_s
        else:
            if not self._unsettled:
                self._before_gap_lag_s = self._usual_lag_s
            self._unsettled.append(window)
        self.gaps.append(SoundGap(after_frame=after_frame, duration_s=duration_s))
        self._windows_since_gap = 0
        self._shorten(-missing_s, window)
        return self.gaps[-1]

    def _give_back(self, early_s: float) -> SoundGap | None:
        """Shorten the last gaps when sound comes earlier than before them, which no sound can.

        What came first after a gap was late then, as from a sound server's long queue.
        """
        gap = None
        while early_s >= _LEAST_GIVEN_BACK_S and self._unsettled:
            gap = self.gaps.pop()
            back_s = min(early_s, gap.duration_s)
            gap = replace(gap, duration_s=gap.duration_s - back_s)
            self._shorten(back_s, self._unsettled[-1])
            if gap.duration_s > 0.0:
                self.gaps.append(gap)
                break
            self._unsettled.pop()
            early_s -= back_s
        return gap

    def _shorten(self, by_s: float, from_window: int) -> None:
        """Take from session time what a gap was told too long, from the window where it was.

        Less than nothing gives it what is missing.
        """
        self._gap_s -= by_s
        self._window.lag_s += by_s
        self._window.lag_at_s -= by_s
        for at in range(from_window, len(self._lags_s)):
            self._lags_s[at] += by_s
            self._lags_at_s[at] -= by_s

    def _gap_after_frame(self, missing_s: float) -> int:
        """Where the lag rose; a rise too small to be seen in one block is where the flag was.

        Where a long backlog came first, sound is lost behind it.
        """
        backlog_end_frame, flagged = self._window.backlog_end_frame, self._first_flag
        if backlog_end_frame - self._last_good_frame > _LONG_BACKLOG_S * self._rate_hz:
            return backlog_end_frame
        if flagged is None or missing_s >= _LEAST_GAP_S:
            return self._last_good_frame
        return max([flagged, *(gap.after_frame for gap in self.gaps[-1:])])
