"""The picture that telemetry is slid along: how well each engine speed explains each moment."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import BoolArray, FloatArray
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_lines import (
    CHUNK_S,
    SPEED_RATIO,
    line_count,
    line_spacing_hz,
    line_weights,
    lines_standing_out,
)

# judgement: all orders count alike, since nobody knows yet which are loud; orders over 8 lie in
# noise.
_ORDERS = np.arange(0.5, 8.01, 0.5)
_WEIGHTS = np.full(_ORDERS.size, 1.0 / _ORDERS.size)
_MOST_CHUNKS = 24  # twelve minutes: the interval is then as narrow as anything needs it


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayEvidence:
    """How well each engine speed explains each frame [shape=(n_frames, n_speeds)]."""

    time_s: FloatArray
    score: NDArray[np.float32]
    lowest_rpm: float

    def along(self, track: SpeedTrack, row_s: FloatArray) -> FloatArray:
        """Score of each frame at the speed of the row that belongs to it; NaN where it has none.

        ``row_s`` [shape=(n_frames,)] is what that row is stamped with.
        """
        position, known = self.position(track.at(row_s))
        index = position.astype(np.int64)
        part = position - index
        # in the score as one row, where single numbers are looked up fastest
        index += self.score.shape[1] * np.arange(self.time_s.size)
        score = self.score.ravel()
        value = (1.0 - part) * score.take(index) + part * score.take(index + 1)
        return np.where(known, value, np.nan)

    def position(self, rpm: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Where engine speeds lie among the columns of the score, and whether they do; else 0."""
        position = np.log(rpm / self.lowest_rpm) / np.log(SPEED_RATIO)
        known = (position >= 0) & (position < self.score.shape[1] - 1)
        return np.where(known, position, 0.0), known

    def mean_along(self, track: SpeedTrack, row_s: FloatArray) -> float:
        """Mean score over the frames that have telemetry; 0 without any."""
        score = self.along(track, row_s)
        known = np.isfinite(score)
        return float(score[known].mean()) if known.any() else 0.0


def gather_evidence(copy: WorkingCopy, track: SpeedTrack) -> DelayEvidence:
    """Look at the chunks of the sound in which engine speed moves most."""
    rpm = track.rpm[np.isfinite(track.rpm)]
    # a little wider than what was logged, so that the speeds at both ends have neighbours
    lowest, highest = 0.94 * float(rpm.min()), 1.06 * float(rpm.max())
    steps = int(np.log(highest / lowest) / np.log(SPEED_RATIO)) + 2
    speeds = lowest * SPEED_RATIO ** np.arange(steps, dtype=np.float64)
    weight = line_weights(line_count(copy), line_spacing_hz(copy), speeds, _ORDERS, _WEIGHTS)
    times, scores = [], []
    for start_s in _telling_chunks(track, copy):
        frame_s, line_db = lines_standing_out(copy, start_s)
        times.append(frame_s)
        scores.append(line_db @ weight)
    return DelayEvidence(
        time_s=np.concatenate(times), score=np.concatenate(scores), lowest_rpm=lowest
    )


def _telling_chunks(track: SpeedTrack, copy: WorkingCopy) -> list[float]:
    """When the chunks start in which engine speed moves most, in the order of time."""
    starts = np.arange(0.0, max(copy.duration_s, CHUNK_S) - 0.5 * CHUNK_S, CHUNK_S)
    if starts.size <= _MOST_CHUNKS:
        return [float(start) for start in starts]
    steps = int(CHUNK_S / track.step_s)
    log_rpm = np.where(copy.gaps.touch(track.time_s, track.time_s), np.nan, np.log(track.rpm))

    def movement(start_s: float) -> float:
        first = int((start_s - track.start_s) / track.step_s)
        part = log_rpm[max(0, first) : max(0, first + steps)]
        part = part[np.isfinite(part)]
        return float(part.std()) * part.size if part.size else 0.0

    # at an even speed the log fits at any delay, and tells nothing
    ranked = sorted(starts, key=movement, reverse=True)[:_MOST_CHUNKS]
    return sorted(float(start) for start in ranked)
