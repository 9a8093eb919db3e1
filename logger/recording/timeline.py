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

import numpy as np
from scipy.special import stdtrit

from logger.arrays import FloatArray
from logger.folder.gaps import SoundGap

# judgement, all of these: arrival wanders by up to 30 ms on ordinary systems and sound cards are
# off by 100 ppm or so. Smaller limits call that wander lost sound, larger ones miss a short loss;
# either moves the times after it by less than the limit.
_WINDOW_S = 1.0
_MEMORY_WINDOWS = 10
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
_LEAST_WINDOWS = 5
_FEW_BLOCKS_S = 0.5  # at the end, in less than this all blocks may have been held back
_LEAST_LAST_GAP_S = 0.2
_MOST_DRIFT_PPM = 500.0  # sound cards are off by 100 ppm or so
_SETTLING_S = 20.0  # sound systems find their pace first
_LEAST_FIT_S = 60.0  # below, wander looks like drift
_ROUNDS = 20
# judgement: a card's own buffer is shorter than this and drops what is oldest. So much at once is
# from a sound server's queue, which keeps what is oldest and drops what comes when it is full.
_LONG_BACKLOG_S = 1.0
# judgement: half as long again as sound systems take to settle; 20 s told a drift in 8 of 100
# recordings that had none.
_WANDER_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFit:
    """One straight line between the computer's clock and that of the session.

    Attributes
    ----------
    origin_s : float
        :func:`time.perf_counter` at session time 0.
    sound_fast_ppm : float or None
        How much the sound card's clock runs fast against the computer's; None where arrival
        wanders so much in so short a recording that it may be none at all.
    within_ppm : float or None
        Half of its interval for 95 %; None when the recording was too short to tell.
    spread_s : float
        Standard deviation of arrival about the line, robust.
    """

    origin_s: float
    sound_fast_ppm: float | None
    within_ppm: float | None
    spread_s: float

    @property
    def is_a_cards(self) -> bool:
        """Whether a sound card may be so fast or slow; else sound is lost in unseen pieces."""
        return abs(self.sound_fast_ppm or 0.0) <= _MOST_DRIFT_PPM

    def session_s(self, perf_s: FloatArray) -> FloatArray:
        """Place times of :func:`time.perf_counter` on the session's clock."""
        return (perf_s - self.origin_s) * (1.0 + 1e-6 * (self.sound_fast_ppm or 0.0))


class SoundClock:
    """Feed it every block; it tells gaps, and what time it is in the session."""

    def __init__(self, sample_rate_hz: int) -> None:
        self.gaps: list[SoundGap] = []
        self._rate_hz = sample_rate_hz
        self._frames = 0
        self._gap_s = 0.0
        self._window_end_s = float("inf")
        self._arrived_s = 0.0
        self._lag_s = float("inf")
        self._lag_at_s = 0.0
        self._higher_lag_s = float("inf")  # when the window was opened or last prolonged
        self._backlog_lag_s = float("inf")  # while this falls, sound that was held back comes
        self._backlog_end_frame = 0
        self._last_good_frame = 0
        self._late_lag_s = float("inf")  # smallest since the last good frame
        self._late_from_s = 0.0
        self._flagged_frame: int | None = None
        self._flagged_before: int | None = None  # in the window before
        self._recent_lag_s: deque[float] = deque(maxlen=_MEMORY_WINDOWS)
        self._before_gap_lag_s = float("inf")  # smallest shortly before the first unsettled gap
        self._windows_since_gap = 0
        self._moved_windows = 0  # how many more to look at closely
        self._is_elsewhere = False
        self._unsettled: list[int] = []  # of the last gaps, in which window each was told
        self._fit_at_s = array("d")
        self._fit_lag_s = array("d")

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
        gap = self._end_window(arrived_s) if arrived_s >= self._window_end_s else None
        if is_flagged and self._flagged_frame is None:
            self._flagged_frame = self._frames
        self._frames += frame_count
        self._arrived_s = arrived_s
        # sound cannot arrive early: the smallest lag of many blocks is the true one, the rest is
        # waiting
        lag_s = arrived_s - self.elapsed_s
        if math.isinf(self._lag_s):
            self._higher_lag_s = lag_s
            self._window_end_s = arrived_s + _WINDOW_S
        if lag_s < self._lag_s:
            self._lag_s, self._lag_at_s = lag_s, self.elapsed_s
        if math.isinf(self._backlog_lag_s):
            self._backlog_lag_s, self._backlog_end_frame = lag_s, 0
        elif lag_s < self._backlog_lag_s - 0.5 * _LEAST_GAP_S:
            self._backlog_lag_s, self._backlog_end_frame = lag_s, self._frames
        if not self._recent_lag_s or lag_s < min(self._recent_lag_s) + 0.5 * _LEAST_GAP_S:
            self._last_good_frame = self._frames
            self._late_lag_s = float("inf")
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
        self._is_elsewhere = is_elsewhere

    def too_early_s(self, frame_count: int, arrived_s: float) -> float:
        """Tell how much of a block that :meth:`note` was not told yet cannot be new sound."""
        if len(self._fit_lag_s) < _LEAST_WINDOWS:
            return 0.0
        least_s = min(self._recent_lag_s)
        if self._unsettled:
            told_s = sum(gap.duration_s for gap in self.gaps[-len(self._unsettled) :])
            least_s = self._before_gap_lag_s - told_s
        duration_s = frame_count / self._rate_hz
        early_s = least_s - (arrived_s - self.elapsed_s - duration_s)
        return min(early_s, duration_s) if early_s >= _LEAST_TOO_EARLY_S else 0.0

    def judge(self) -> SoundGap | None:
        """Judge what came last, though it may be few blocks: it is over, or nothing comes now."""
        if math.isinf(self._lag_s):
            return None
        least_s = self._least_gap_s
        if not math.isinf(self._late_lag_s):
            if self._arrived_s - self._late_from_s < _FEW_BLOCKS_S:
                least_s = _LEAST_LAST_GAP_S
            if self._late_lag_s - min(self._recent_lag_s) >= least_s:
                self._lag_s, self._lag_at_s = self._late_lag_s, self.elapsed_s
        gap = self._close_window(least_s)
        self._last_good_frame = self._frames
        self._late_lag_s = float("inf")
        return gap

    def session_s(self, perf_s: float) -> float:
        """Session time of a moment, as well as is known now; 0 before the first block."""
        if not self.has_begun:
            return 0.0
        return perf_s - min(self._lag_s, *self._recent_lag_s, float("inf"))

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
        at_s = np.array(self._fit_at_s)
        lag_s = np.array(self._fit_lag_s)
        if at_s.size == 0:
            return ClockFit(
                origin_s=self._lag_s, sound_fast_ppm=None, within_ppm=None, spread_s=0.0
            )
        # the first seconds are the sound system finding its pace, not the card's clock
        settled = at_s >= _SETTLING_S
        if not settled.any() or np.ptp(at_s[settled]) < _LEAST_FIT_S:
            return _no_drift(float(lag_s.min()), lag_s, None)
        origin_s, slope = _robust_line(at_s[settled], lag_s[settled])
        spread_s = _spread(lag_s[settled] - origin_s - slope * at_s[settled])
        within_ppm = 1e6 * _within(spread_s, float(np.ptp(at_s[settled])))
        sound_fast_ppm = 1e6 * (1.0 / (1.0 + slope) - 1.0)
        # a pace that no card has is no wander either, however short the recording
        if abs(sound_fast_ppm) < min(within_ppm, _MOST_DRIFT_PPM):
            return _no_drift(float(lag_s.min()), lag_s, within_ppm)
        # what waits only makes late: the line through all is late by its mean, 10 ms and more
        earliest_s = float((lag_s[settled] - slope * at_s[settled]).min())
        return ClockFit(
            origin_s=earliest_s,
            sound_fast_ppm=sound_fast_ppm,
            within_ppm=within_ppm,
            spread_s=spread_s,
        )

    @property
    def _missing_s(self) -> float:
        """How much later the blocks of this window came than those before."""
        return self._lag_s - min(self._recent_lag_s, default=self._lag_s)

    @property
    def _least_gap_s(self) -> float:
        if self._moved_windows:
            return _LEAST_MOVED_GAP_S
        is_flagged = self._flagged_frame is not None or self._flagged_before is not None
        return _LEAST_FLAGGED_GAP_S if is_flagged else _LEAST_GAP_S

    def _end_window(self, arrived_s: float) -> SoundGap | None:
        """Close the window, or prolong it while what is missing is still coming."""
        is_falling = self._lag_s < self._higher_lag_s - 0.5 * _LEAST_GAP_S
        if is_falling and self._missing_s >= self._least_gap_s:
            self._window_end_s = arrived_s + _WINDOW_S
            # still falling: what was held back is coming in, so the loss is not yet known
            self._higher_lag_s = self._lag_s
            return None
        return self._close_window(self._least_gap_s)

    def _close_window(self, least_gap_s: float) -> SoundGap | None:
        gap = None
        self._window_end_s = float("inf")  # until the next block
        missing_s = self._missing_s
        self._moved_windows = max(0, self._moved_windows - 1)
        self._windows_since_gap += 1
        if self._windows_since_gap > (
            _ELSEWHERE_WINDOWS if self._is_elsewhere else _SETTLED_WINDOWS
        ):
            self._unsettled.clear()
        if missing_s >= least_gap_s:
            self._windows_since_gap = 0
            gap = self._gap(missing_s)
            self._gap_s += missing_s
            self._lag_s -= missing_s
            self._lag_at_s += missing_s
        elif self._unsettled:
            gap = self._give_back(self._before_gap_lag_s - self._lag_s)
        self._recent_lag_s.append(self._lag_s)
        self._fit_at_s.append(self._lag_at_s)
        self._fit_lag_s.append(self._lag_s)
        self._lag_s = self._backlog_lag_s = float("inf")
        self._flagged_before, self._flagged_frame = self._flagged_frame, None
        return gap

    def _gap(self, missing_s: float) -> SoundGap:
        """Note a gap; one at the place of the last one shows that it was longer than it seemed."""
        after_frame = self._gap_after_frame(missing_s)
        if self.gaps and self.gaps[-1].after_frame == after_frame:
            # two gaps without sound between them are one
            missing_s += self.gaps.pop().duration_s
        elif self._unsettled:
            self._unsettled.append(len(self._fit_lag_s))
        else:
            self._before_gap_lag_s = min(self._recent_lag_s)
            self._unsettled.append(len(self._fit_lag_s))
        self.gaps.append(SoundGap(after_frame=after_frame, duration_s=missing_s))
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
        """Take from session time what a gap was told too long, from the window where it was."""
        self._gap_s -= by_s
        self._lag_s += by_s
        self._lag_at_s -= by_s
        for back in range(1, len(self._fit_lag_s) - from_window + 1):
            self._fit_lag_s[-back] += by_s
            self._fit_at_s[-back] -= by_s
            if back <= len(self._recent_lag_s):
                self._recent_lag_s[-back] += by_s

    def _gap_after_frame(self, missing_s: float) -> int:
        """Where the lag rose; a rise too small to be seen in one block is where the flag was.

        Where a long backlog came first, sound is lost behind it.
        """
        if self._backlog_end_frame - self._last_good_frame > _LONG_BACKLOG_S * self._rate_hz:
            return self._backlog_end_frame
        flags = (self._flagged_before, self._flagged_frame)
        flagged = next((frame for frame in flags if frame is not None), None)
        if flagged is None or missing_s >= _LEAST_GAP_S:
            return self._last_good_frame
        return max(flagged, self.gaps[-1].after_frame) if self.gaps else flagged


def _no_drift(origin_s: float, lag_s: FloatArray, within_ppm: float | None) -> ClockFit:
    return ClockFit(
        origin_s=origin_s,
        sound_fast_ppm=None,
        within_ppm=within_ppm,
        spread_s=_spread(lag_s - origin_s),
    )


def _within(spread_s: float, duration_s: float) -> float:
    """Half of the interval for 95 % of a slope, s/s; arrival wanders, it does not scatter.

    So only stretches as long as the wander are witnesses of their own. The error of the slope
    through n even points is ``spread sqrt(12 / n) / duration``, Student's t with n - 2 degrees of
    freedom (Draper and Smith, Applied Regression Analysis, ch. 1, from memory).
    """
    count = duration_s / _WANDER_S
    error = spread_s * math.sqrt(12.0 / count) / duration_s
    return float(stdtrit(max(count - 2.0, 1.0), 0.975)) * error


def _robust_line(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Offset and slope with Huber's weights: a few seconds of trouble must not tilt the line."""
    weight = np.ones_like(x)
    slope, offset = 0.0, float(np.median(y))
    for _ in range(_ROUNDS):
        slope, offset = np.polyfit(x, y, 1, w=weight)
        residual = np.abs(y - offset - slope * x)
        # 1.345 robust deviations: Huber's usual limit, 95 % efficient on clean data, from memory
        limit = max(1.345 * 1.4826 * float(np.median(residual)), 1e-6)
        weight = np.sqrt(np.minimum(1.0, limit / np.maximum(residual, limit)))
    return float(offset), float(slope)


def _spread(residual: FloatArray) -> float:
    return 1.4826 * float(np.median(np.abs(residual - np.median(residual))))
