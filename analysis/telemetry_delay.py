"""How late telemetry is against the sound, measured from the sound itself.

:mod:`analysis.speed_evidence` gives a picture of "how likely is this engine speed now". The
telemetry, slid along in time, fits that picture best when its delay is undone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.drive import FloatArray
from analysis.engine_speed import SpeedTrack
from analysis.findings import Interval, TelemetryDelay
from analysis.speed_evidence import CHUNK_S, SPEED_RATIO, lines_standing_out, speed_scores
from analysis.working_copy import WorkingCopy

LARGEST_OFFSET_S = 33.0  # separate recorders are started up to half a minute apart

_ORDERS = np.arange(0.5, 8.01, 0.5)
_WEIGHTS = np.full(_ORDERS.size, 1.0 / _ORDERS.size)
_MOST_CHUNKS = 40
_COARSE_STEP_S = 0.1
_FINE_STEP_S = 0.01
_FINE_REACH_S = 0.6
_BLOCK_S = 3.0
_RESAMPLINGS = 400
_LEAST_REACH_S = 0.003  # what the interpolation between frames leaves open
_LEAST_CONTRAST = 6.0  # peak of the fit over its scatter at other delays
_LEAST_FRAMES = 50
_DRIFT_WORTH_S = 300.0  # over less, a drift of 200 ppm moves nothing by more than 60 ms
_LARGEST_DRIFT_PPM = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Evidence:
    """How well each engine speed explains each frame [shape=(n_frames, n_speeds)]."""

    time_s: FloatArray
    score: NDArray[np.float32]
    lowest_rpm: float

    def along(self, track: SpeedTrack, delay_s: FloatArray | float) -> FloatArray:
        """Score at the telemetry's speed for each frame; NaN where it has none.

        ``delay_s`` is one number, or one for each frame.
        """
        rpm = track.at(self.time_s + delay_s)
        position = np.log(rpm / self.lowest_rpm) / np.log(SPEED_RATIO)
        known = (position >= 0) & (position < self.score.shape[1] - 1)
        index = np.where(known, position, 0.0).astype(np.int64)
        part = np.where(known, position - index, 0.0)
        frame = np.arange(self.time_s.size)
        value = (1.0 - part) * self.score[frame, index] + part * self.score[frame, index + 1]
        return np.where(known, value, np.nan)

    def mean_along(self, track: SpeedTrack, delay_s: FloatArray | float) -> tuple[float, int]:
        """Mean score over the frames that have telemetry, and how many those are."""
        score = self.along(track, delay_s)
        known = np.isfinite(score)
        count = int(np.count_nonzero(known))
        return (float(score[known].mean()) if count else 0.0), count


def measure_delay(copy: WorkingCopy, track: SpeedTrack) -> TelemetryDelay | None:
    """Delay of the telemetry rows and its 95 % interval; None when the sound cannot decide."""
    evidence = _gather_evidence(copy, track)
    if evidence is None or evidence.time_s.size < _LEAST_FRAMES:
        return None
    coarse_s = np.arange(-LARGEST_OFFSET_S, LARGEST_OFFSET_S, _COARSE_STEP_S)
    fit = _fit(evidence, track, coarse_s)
    if not np.isfinite(fit).any():
        return None
    best = int(np.nanargmax(fit))
    others = fit[np.abs(coarse_s - coarse_s[best]) > 2.0]
    if not np.isfinite(others).any():
        return None
    scatter = 1.4826 * np.nanmedian(np.abs(others - np.nanmedian(others)))
    if fit[best] - np.nanmedian(others) <= _LEAST_CONTRAST * scatter:
        return None
    drift_ppm = 0.0
    if copy.duration_s > _DRIFT_WORTH_S:
        drift_ppm = _best_drift(evidence, track, float(coarse_s[best]), copy.duration_s)
    return _refined(evidence, track, float(coarse_s[best]), drift_ppm, copy.duration_s)


def _fit(evidence: _Evidence, track: SpeedTrack, delays_s: FloatArray) -> FloatArray:
    """Mean score at each delay; NaN where under half of the frames have telemetry."""
    pairs = [evidence.mean_along(track, float(delay)) for delay in delays_s]
    mean = np.array([mean for mean, _ in pairs])
    count = np.array([count for _, count in pairs])
    return np.where(count >= max(_LEAST_FRAMES, 0.5 * count.max()), mean, np.nan)


def _drifting(
    evidence: _Evidence, delay_s: float, drift_ppm: float, duration_s: float
) -> FloatArray:
    """Delay of each frame [shape=(n_frames,)], ``delay_s`` in the middle of the sound."""
    return delay_s + 1e-6 * drift_ppm * (evidence.time_s - 0.5 * duration_s)


def _best_drift(evidence: _Evidence, track: SpeedTrack, delay_s: float, duration_s: float) -> float:
    step_ppm = max(5.0, 1e6 * 0.04 / duration_s)
    drifts = np.arange(-_LARGEST_DRIFT_PPM, _LARGEST_DRIFT_PPM + step_ppm, step_ppm)
    delays = delay_s + np.arange(-0.3, 0.31, 0.05)
    fits = [
        max(
            evidence.mean_along(track, _drifting(evidence, delay, drift, duration_s))[0]
            for delay in delays
        )
        for drift in drifts
    ]
    return float(drifts[int(np.argmax(fits))])


def _refined(
    evidence: _Evidence, track: SpeedTrack, near_s: float, drift_ppm: float, duration_s: float
) -> TelemetryDelay:
    delays = near_s + np.arange(-_FINE_REACH_S, _FINE_REACH_S + 1e-9, _FINE_STEP_S)
    block = (evidence.time_s / _BLOCK_S).astype(np.int64)
    _, block = np.unique(block, return_inverse=True)
    count = int(block.max()) + 1

    def block_sums(delay_s: float) -> FloatArray:
        delay_of_frame = _drifting(evidence, delay_s, drift_ppm, duration_s)
        score = np.nan_to_num(evidence.along(track, delay_of_frame))
        return np.bincount(block, weights=score, minlength=count).astype(np.float64)

    sums = np.stack([block_sums(delay) for delay in delays], axis=1)
    best_s = _peak(delays, sums.sum(axis=0))
    rng = np.random.default_rng(1)
    weights = rng.multinomial(count, np.full(count, 1.0 / count), size=_RESAMPLINGS)
    resampled = np.array([_peak(delays, row) for row in weights @ sums])
    half_width_s = float(np.hypot(1.96 * resampled.std(), _LEAST_REACH_S))
    return TelemetryDelay(
        delay_s=best_s,
        ci95_s=Interval(low=best_s - half_width_s, high=best_s + half_width_s),
        drift_ppm=drift_ppm,
    )


def _peak(delays: FloatArray, fit: FloatArray) -> float:
    """Delay of the best fit, by a parabola through the curve around its top."""
    top = int(np.argmax(fit))
    reach = 12
    part = slice(max(0, top - reach), min(fit.size, top + reach + 1))
    x = delays[part] - delays[top]
    a, b, _ = np.polyfit(x, fit[part], 2)
    if a >= 0:
        return float(delays[top])
    return float(delays[top] + np.clip(-b / (2 * a), x[0], x[-1]))


def _gather_evidence(copy: WorkingCopy, track: SpeedTrack) -> _Evidence | None:
    rpm = track.rpm[np.isfinite(track.rpm)]
    lowest, highest = 0.94 * float(rpm.min()), 1.06 * float(rpm.max())
    steps = int(np.log(highest / lowest) / np.log(SPEED_RATIO)) + 2
    speeds = lowest * SPEED_RATIO ** np.arange(steps, dtype=np.float64)
    times, scores = [], []
    for start_s in _telling_chunks(track, copy):
        frame_s, line_db, spacing_hz = lines_standing_out(copy, start_s)
        if frame_s.size:
            times.append(frame_s)
            scores.append(speed_scores(line_db, spacing_hz, speeds, _ORDERS, _WEIGHTS))
    if not times:
        return None
    return _Evidence(time_s=np.concatenate(times), score=np.concatenate(scores), lowest_rpm=lowest)


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

    ranked = sorted(starts, key=movement, reverse=True)[:_MOST_CHUNKS]
    return sorted(float(start) for start in ranked)
