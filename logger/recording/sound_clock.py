"""The clock of a session: which sound was lost, and the computer's clock beside that of the sound.

What else was measured carries :func:`time.perf_counter` and is placed on session time here.

A sound system may lose sound without saying so, and it may hold blocks back and then deliver them
all at once or little by little. So each block's *lag* is watched: arrival minus session time of its
last frame. Within a second the smallest lag is that of a block nobody held back. A lag that rises
faster than clocks drift is lost sound; one that creeps is the drift of the sound card against the
computer; while it falls, sound that was held back is still coming.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from logger.folder.gaps import SoundGap
from logger.recording.clock_fit import ClockFit
from logger.recording.lags import Lags
from logger.recording.timeline import Timeline

# judgement, all of these: arrival wanders by up to 30 ms on ordinary systems and sound cards are
# off by 100 ppm or so. Smaller limits call that wander lost sound, larger ones miss a short loss;
# either moves the times after it by less than the limit.
_LEAST_GAP_S = 0.05
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


class SoundClock:
    """Feed it every block; it tells gaps, and what time it is in the session.

    Attributes
    ----------
    timeline : Timeline
        The frames so far, and the gaps told.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self.timeline = Timeline(sample_rate_hz)
        self._rate_hz = sample_rate_hz
        self._lags = Lags()
        self._moved_windows = 0  # how many more to look at closely
        self._is_repeated = False  # what came last was given twice
        self._unsettled: list[int] = []  # of the last gaps, in which window each was told
        self._before_gap_lag_s = math.inf  # smallest shortly before the first unsettled gap
        self._windows_since_gap = 0
        self._settled_windows = _SETTLED_WINDOWS

    @property
    def has_begun(self) -> bool:
        """Whether any sound came yet."""
        return self.timeline.frame_count > 0

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the last block."""
        return self.timeline.elapsed_s

    def note(
        self, frame_count: int, arrived_s: float, *, is_flagged: bool = False
    ) -> SoundGap | None:
        """Count a block of ``frame_count`` frames that was there at ``arrived_s``.

        ``is_flagged`` when the sound system says that it lost sound before the block or in it;
        that alone makes no gap.
        """
        gap = self._end_window(arrived_s) if arrived_s >= self._lags.window.end_s else None
        if is_flagged:
            self._lags.note_flag(self.timeline.frame_count)
        self.timeline.frame_count += frame_count
        self._lags.note(arrived_s, self.elapsed_s, self.timeline.frame_count)
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
        if len(self._lags) < _LEAST_WINDOWS:
            return 0.0
        least_s = self._lags.usual_s
        if self._unsettled:
            told = self.timeline.gaps[-len(self._unsettled) :]
            least_s = self._before_gap_lag_s - sum(gap.duration_s for gap in told)
        duration_s = frame_count / self._rate_hz
        early_s = least_s - (arrived_s - self.elapsed_s - duration_s)
        least_early_s = _LEAST_TOO_EARLY_STILL_S if self._is_repeated else _LEAST_TOO_EARLY_S
        self._is_repeated = early_s >= least_early_s
        return min(early_s, duration_s) if self._is_repeated else 0.0

    def judge(self) -> SoundGap | None:
        """Judge what came last, though it may be few blocks: it is over, or nothing comes now."""
        lags = self._lags
        if lags.window.is_empty:
            return None
        least_s = self._least_gap_s
        if lags.is_late:
            if lags.late_for_s < _FEW_BLOCKS_S:
                least_s = _LEAST_LAST_GAP_S
            if lags.late_lag_s - lags.usual_s >= least_s:
                lags.window.lag_s, lags.window.lag_at_s = lags.late_lag_s, self.elapsed_s
        gap = self._close_window(least_s)
        lags.note_good(self.timeline.frame_count)
        return gap

    def session_s(self, perf_s: float) -> float:
        """Session time of a moment, as well as is known now; 0 before the first block."""
        if not self.has_begun:
            return 0.0
        return perf_s - min(self._lags.window.lag_s, self._lags.usual_s)

    def fit(self) -> ClockFit:
        """Fit the whole recording."""
        return self._lags.fit()

    @property
    def _least_gap_s(self) -> float:
        if self._moved_windows:
            return _LEAST_MOVED_GAP_S
        return _LEAST_GAP_S if self._lags.first_flag is None else _LEAST_FLAGGED_GAP_S

    def _end_window(self, arrived_s: float) -> SoundGap | None:
        """Close the window, or prolong it while what is missing is still coming."""
        # still falling: what was held back is coming in, so the loss is not yet known
        if self._lags.window.is_falling and self._lags.missing_s >= self._least_gap_s:
            self._lags.window.prolong(arrived_s)
            return None
        return self._close_window(self._least_gap_s)

    def _close_window(self, least_gap_s: float) -> SoundGap | None:
        gap, missing_s = None, self._lags.missing_s
        self._windows_since_gap += 1
        if self._windows_since_gap > self._settled_windows:
            self._unsettled.clear()
        if missing_s >= least_gap_s:
            gap = self._tell_gap(missing_s)
        elif self._unsettled:
            gap = self._give_back(self._before_gap_lag_s - self._lags.window.lag_s)
        self._moved_windows = max(0, self._moved_windows - 1)
        self._lags.close(self.timeline.frame_count)
        return gap

    def _tell_gap(self, missing_s: float) -> SoundGap:
        late_windows, after_frame = 0, self._gap_after_frame(missing_s)
        if self._moved_windows and missing_s < _LEAST_GAP_S:
            # too small to be seen in one block: it was lost before the windows that were late
            late_windows, after_frame = self._lags.late_since(missing_s)
            after_frame = self.timeline.not_before_a_gap(after_frame)
        window = len(self._lags) - late_windows
        if not self.timeline.has_gap_at(after_frame):
            if not self._unsettled:
                self._before_gap_lag_s = self._lags.usual_s
            self._unsettled.append(window)
        self._windows_since_gap = 0
        self._lags.shorten(-missing_s, window)
        return self.timeline.tell(after_frame, missing_s)

    def _give_back(self, early_s: float) -> SoundGap | None:
        """Shorten the last gaps when sound comes earlier than before them, which no sound can.

        What came first after a gap was late then, as from a sound server's long queue.
        """
        gap = None
        while early_s >= _LEAST_GIVEN_BACK_S and self._unsettled:
            back_s = min(early_s, self.timeline.gaps[-1].duration_s)
            gap = self.timeline.give_back(back_s)
            self._lags.shorten(back_s, self._unsettled[-1])
            if gap.duration_s > 0.0:
                break
            self._unsettled.pop()
            early_s -= back_s
        return gap

    def _gap_after_frame(self, missing_s: float) -> int:
        """Where the lag rose; a rise too small to be seen in one block is where the flag was.

        Where a long backlog came first, sound is lost behind it.
        """
        backlog_end_frame, flagged = self._lags.window.backlog_end_frame, self._lags.first_flag
        if backlog_end_frame - self._lags.last_good_frame > _LONG_BACKLOG_S * self._rate_hz:
            return backlog_end_frame
        if flagged is None or missing_s >= _LEAST_GAP_S:
            return self._lags.last_good_frame
        return self.timeline.not_before_a_gap(flagged)
