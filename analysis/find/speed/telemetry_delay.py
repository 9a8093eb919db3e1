"""How late telemetry is against the sound, measured from the sound itself.

:mod:`analysis.find.speed.speed_lines` gives a picture of "how likely is this engine speed now". The
telemetry, slid along in time, fits that picture best when its delay is undone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.basics.rows import rows
from analysis.find.sound.speed_track import SpeedTrack, row_times
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.delay_picture import DelayEvidence, gather_evidence
from analysis.find.speed.delay_search import RoughAlignment, rough_alignment
from analysis.findings import TelemetryDelay

# judgement: resamplings in blocks longer than the foot's wobble give the interval its width; finer
# steps and more of them only steady it.
_FINE_STEP_S = 0.02
_FINE_REACH_S = 0.6
_BLOCK_S = 3.0
_RESAMPLINGS = 400
_LEAST_REACH_S = 0.003  # what the interpolation between frames leaves open
_LEAST_FRAMES = 50


def measure_delay(copy: WorkingCopy, track: SpeedTrack) -> TelemetryDelay | None:
    """Delay of the telemetry rows and its 95 % interval; None when the sound cannot decide."""
    evidence = gather_evidence(copy, track)
    if evidence.time_s.size < _LEAST_FRAMES:
        return None
    rough = rough_alignment(evidence, track, copy.duration_s)
    if rough is None:
        return None
    drift_ppm = _best_drift(evidence, track, rough, copy.duration_s)
    return _refined(evidence, track, rough.delay_s, drift_ppm, copy.duration_s)


def _best_drift(
    evidence: DelayEvidence, track: SpeedTrack, rough: RoughAlignment, duration_s: float
) -> float:
    """Drift to 0.02 s at the ends of the sound; 0 where the sound is too short to tell."""
    if not rough.drift_step_ppm:
        return 0.0
    thin = rows(evidence, np.arange(0, evidence.time_s.size, 2))
    # the rough search's own step to either side, in fifths
    drifts = rough.drift_ppm + rough.drift_step_ppm * np.arange(-1.0, 1.01, 0.2)
    delays = rough.delay_s + np.arange(-0.2, 0.21, 0.05)
    fits = [
        max(
            thin.mean_along(track, row_times(thin.time_s, delay, drift, duration_s))
            for delay in delays
        )
        for drift in drifts
    ]
    return float(drifts[int(np.argmax(fits))])


def _refined(
    evidence: DelayEvidence, track: SpeedTrack, near_s: float, drift_ppm: float, duration_s: float
) -> TelemetryDelay:
    delays = near_s + np.arange(-_FINE_REACH_S, _FINE_REACH_S + 1e-9, _FINE_STEP_S)
    fits = [
        evidence.along(track, row_times(evidence.time_s, delay, drift_ppm, duration_s))
        for delay in delays
    ]
    delay = best_delay(delays, block_sums(evidence.time_s, fits), _LEAST_REACH_S)
    return replace(delay, drift_ppm=drift_ppm)


def block_sums(time_s: FloatArray, fits: Sequence[FloatArray]) -> FloatArray:
    """Add up by block [shape=(n_blocks, n_delays)] how each moment fits at each delay; NaN is 0."""
    _, block = np.unique((time_s / _BLOCK_S).astype(np.int64), return_inverse=True)
    return np.stack([np.bincount(block, weights=np.nan_to_num(fit)) for fit in fits], axis=1)


def best_delay(delays: FloatArray, sums: FloatArray, least_reach_s: float) -> TelemetryDelay:
    """Delay of the best fit, and its interval from how far blocks of the drive agree on it.

    ``sums`` [shape=(n_blocks, n_delays)] says how well each block fits at each delay.
    """
    count = sums.shape[0]
    best_s = float(_peaks(delays, sums.sum(axis=0, keepdims=True))[0])
    rng = np.random.default_rng(1)
    # a bootstrap of whole blocks, because neighbouring frames err together
    weights = rng.multinomial(count, np.full(count, 1.0 / count), size=_RESAMPLINGS)
    resampled = _peaks(delays, weights @ sums)
    # the bootstrap alone would call a long drive surer than its frames allow
    half_width_s = float(np.hypot(SURE * resampled.std(), least_reach_s))
    return TelemetryDelay(
        delay_s=best_s,
        ci95_s=Interval(low=best_s - half_width_s, high=best_s + half_width_s),
        drift_ppm=0.0,
    )


def _peaks(delays: FloatArray, fits: FloatArray) -> FloatArray:
    """Delay of the best fit of each row, by a parabola through the curve around its top."""
    # six steps to either side: the fit is a parabola there, and single points are noise
    reach = 6
    tops = fits.argmax(axis=1)
    peaks: FloatArray = delays[tops]
    for top in np.unique(tops):
        part = slice(max(0, top - reach), top + reach + 1)
        x = delays[part] - delays[top]
        a, b, _ = np.polyfit(x, fits[tops == top, part].T, 2)
        # where no hill is, its highest point is all that is known
        beside = np.clip(-b / (2.0 * np.where(a < 0.0, a, -np.inf)), x[0], x[-1])
        peaks[tops == top] += beside
    return peaks
