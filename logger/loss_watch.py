"""Tell lost sound by counting: frames that came against the time that passed.

A sound system may lose sound without saying so, and it may hold blocks back and then deliver them
all at once. Within a second the smallest lag is that of a block nobody held back; when it jumps
from one second to the next, frames are missing. Slow drift of the two clocks makes no jump.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

_WINDOW_S = 1.0
_LEAST_LOSS_S = 0.05  # arrival wanders by up to 30 ms on ordinary systems


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Sound that never came: where in the recording, and how much."""

    start_s: float
    duration_s: float


class LossWatch:
    """Feed it every block; it tells when sound went missing."""

    def __init__(self, sample_rate_hz: float) -> None:
        self._rate_hz = sample_rate_hz
        self._frames = 0
        self._origin_s: float | None = None
        self._window_end_s = 0.0
        self._lag_s = float("inf")
        self._settled_lag_s: float | None = None

    def note(self, frame_count: int, arrived_s: float) -> Loss | None:
        """Count a block of ``frame_count`` frames that was there at ``arrived_s``."""
        self._frames += frame_count
        if self._origin_s is None:
            self._origin_s = arrived_s - self._frames / self._rate_hz
            self._window_end_s = arrived_s + _WINDOW_S
        loss = self._close_window(arrived_s) if arrived_s >= self._window_end_s else None
        lag_s = arrived_s - self._origin_s - self._frames / self._rate_hz
        self._lag_s = min(self._lag_s, lag_s)
        return loss

    def _close_window(self, arrived_s: float) -> Loss | None:
        lag_s, before_s = self._lag_s, self._settled_lag_s
        self._window_end_s = arrived_s + _WINDOW_S
        self._lag_s = float("inf")
        self._settled_lag_s = lag_s
        if before_s is None or lag_s - before_s < _LEAST_LOSS_S:
            return None
        start_s = max(0.0, self._frames / self._rate_hz - _WINDOW_S)
        return Loss(start_s=start_s, duration_s=lag_s - before_s)
