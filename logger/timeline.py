"""The clock of a session: frames that came, gaps between them, and the computer's clock beside.

Session time is the time of the sound: frames divided by the nominal rate, plus the gaps in which
sound was lost. What else was measured carries :func:`time.perf_counter` and is placed on it here.

A sound system may lose sound without saying so, and it may hold blocks back and then deliver them
all at once. So each block's *lag* is watched: arrival minus session time of its last frame. Within
a second the smallest lag is that of a block nobody held back. A lag that rises faster than clocks
drift is lost sound; one that creeps is the drift of the sound card against the computer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from array import array
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_WINDOW_S = 1.0
_MEMORY_WINDOWS = 10
_LEAST_GAP_S = 0.05  # arrival wanders by up to 30 ms on ordinary systems
_SETTLING_S = 20.0  # sound systems find their pace first
_LEAST_FIT_S = 60.0  # below, wander looks like drift
_ROUNDS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundGap:
    """Sound that never came: after how many recorded frames, and how much."""

    after_frame: int
    duration_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFit:
    """One straight line between the computer's clock and that of the session.

    Attributes
    ----------
    origin_s : float
        :func:`time.perf_counter` at session time 0.
    sound_fast_ppm : float or None
        How much the sound card's clock runs fast against the computer's; None when the recording
        was too short to tell.
    spread_s : float
        Standard deviation of arrival about the line, robust.
    """

    origin_s: float
    sound_fast_ppm: float | None
    spread_s: float

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
        self._window_end_s: float | None = None
        self._lag_s = float("inf")
        self._lag_at_s = 0.0
        self._last_good_frame = 0
        self._recent_lag_s: deque[float] = deque(maxlen=_MEMORY_WINDOWS)
        self._fit_at_s = array("d")
        self._fit_lag_s = array("d")

    @property
    def elapsed_s(self) -> float:
        """Session time at the end of the last block."""
        return self._frames / self._rate_hz + self._gap_s

    def note(self, frame_count: int, arrived_s: float) -> SoundGap | None:
        """Count a block of ``frame_count`` frames that was there at ``arrived_s``."""
        if self._window_end_s is None:
            self._window_end_s = arrived_s + _WINDOW_S
        gap = self._close_window(arrived_s) if arrived_s >= self._window_end_s else None
        self._frames += frame_count
        lag_s = arrived_s - self.elapsed_s
        if lag_s < self._lag_s:
            self._lag_s, self._lag_at_s = lag_s, self.elapsed_s
        if not self._recent_lag_s or lag_s < min(self._recent_lag_s) + 0.5 * _LEAST_GAP_S:
            self._last_good_frame = self._frames
        return gap

    def session_s(self, perf_s: float) -> float | None:
        """Session time of a moment, as well as is known now; None before the first block."""
        if self._window_end_s is None:
            return None
        return perf_s - min(self._lag_s, *self._recent_lag_s, float("inf"))

    def frame_session_s(self, frames: FloatArray) -> FloatArray:
        """Session time of positions in the recorded sound."""
        starts = [gap.after_frame for gap in self.gaps]
        before_s = np.cumsum([0.0, *(gap.duration_s for gap in self.gaps)])
        before = np.searchsorted(starts, frames, side="right")
        return np.asarray(frames / self._rate_hz + before_s[before])

    def fit(self) -> ClockFit:
        """Fit the whole recording."""
        at_s = np.array(self._fit_at_s)
        lag_s = np.array(self._fit_lag_s)
        if at_s.size == 0:
            return ClockFit(origin_s=self._lag_s, sound_fast_ppm=None, spread_s=0.0)
        settled = at_s >= _SETTLING_S
        if not settled.any() or np.ptp(at_s[settled]) < _LEAST_FIT_S:
            origin_s = float(lag_s.min())
            return ClockFit(
                origin_s=origin_s, sound_fast_ppm=None, spread_s=_spread(lag_s - origin_s)
            )
        origin_s, slope = _robust_line(at_s[settled], lag_s[settled])
        spread_s = _spread(lag_s[settled] - origin_s - slope * at_s[settled])
        return ClockFit(
            origin_s=origin_s,
            sound_fast_ppm=1e6 * (1.0 / (1.0 + slope) - 1.0),
            spread_s=spread_s,
        )

    def _close_window(self, arrived_s: float) -> SoundGap | None:
        gap = None
        if self._recent_lag_s:
            missing_s = self._lag_s - min(self._recent_lag_s)
            if missing_s >= _LEAST_GAP_S:
                gap = self._gap(missing_s)
                self._gap_s += missing_s
                self._lag_s -= missing_s
                self._lag_at_s += missing_s
        self._recent_lag_s.append(self._lag_s)
        self._fit_at_s.append(self._lag_at_s)
        self._fit_lag_s.append(self._lag_s)
        self._window_end_s = arrived_s + _WINDOW_S
        self._lag_s = float("inf")
        return gap

    def _gap(self, missing_s: float) -> SoundGap:
        """Note a gap; one at the place of the last one shows that it was longer than it seemed."""
        if self.gaps and self.gaps[-1].after_frame == self._last_good_frame:
            missing_s += self.gaps.pop().duration_s
        self.gaps.append(SoundGap(after_frame=self._last_good_frame, duration_s=missing_s))
        return self.gaps[-1]


def _robust_line(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Offset and slope with Huber's weights: a few seconds of trouble must not tilt the line."""
    weight = np.ones_like(x)
    slope, offset = 0.0, float(np.median(y))
    for _ in range(_ROUNDS):
        slope, offset = np.polyfit(x, y, 1, w=weight)
        residual = np.abs(y - offset - slope * x)
        limit = max(1.345 * 1.4826 * float(np.median(residual)), 1e-6)
        weight = np.sqrt(np.minimum(1.0, limit / np.maximum(residual, limit)))
    return float(offset), float(slope)


def _spread(residual: FloatArray) -> float:
    return 1.4826 * float(np.median(np.abs(residual - np.median(residual))))
