"""The first, wide search for the telemetry's delay: two recorders may be a minute apart.

Their clocks may drift apart as well, so that over hours no single delay fits. Each chunk of the
sound is therefore scored on its own at every delay; a drift only shifts the chunks' scores
against each other before they are added up.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.speed.delay_picture import DelayEvidence
from analysis.find.speed.speed_lines import CHUNK_S

# judgement: two clocks set by hand differ by a minute at most, and cheap ones by 500 ppm; a wider
# search finds false fits in noise.
LARGEST_OFFSET_S = 62.0
LARGEST_DRIFT_PPM = 550.0

# judgement: a coarse search, refined afterwards, so 20 % more of any moves nothing. A lower
# contrast takes a chance fit for a delay, a higher one leaves it unmeasured, which is told.
_STEP_S = 0.1
_EVERY = 3  # frames are 0.1 s apart; engine speed moves little in 0.3 s
_LEAST_FRAMES = 17
_LEAST_OVERLAP = 0.2  # of the most frames that any delay has
_LEAST_CONTRAST = 6.0  # peak of the fit over its scatter at other delays
_APART_S = 2.0
_LEAST_OTHERS = 30  # three seconds of delays, which tell of scatter; a short drive has no more


_Any = TypeVar("_Any", bound=np.generic)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughAlignment:
    """Delay in the middle of the sound to 0.1 s, and drift to what moves the ends by as much."""

    delay_s: float
    drift_ppm: float
    drift_step_ppm: float  # 0 where the sound is too short for a drift to matter


def rough_alignment(
    evidence: DelayEvidence, track: SpeedTrack, duration_s: float
) -> RoughAlignment | None:
    """Best delay and drift over the whole search; None where no delay stands out."""
    # the drift that moves the ends by one step of delay: less cannot be told apart here
    step_ppm = 1e6 * _STEP_S / (0.5 * duration_s)
    count = int(LARGEST_DRIFT_PPM / step_ppm)
    margin = int(np.ceil(1e-6 * LARGEST_DRIFT_PPM * 0.5 * duration_s / _STEP_S)) + 1
    chunks = _score_chunks(evidence, track, margin)
    best: tuple[float, int, int, FloatArray] | None = None
    for number in range(-count, count + 1):
        drift_s = 1e-6 * number * step_ppm * (chunks.middle_s - 0.5 * duration_s)
        fit = _fit(chunks, np.rint(drift_s / _STEP_S).astype(np.int64), margin)
        if np.isfinite(fit).any():
            top = int(np.nanargmax(fit))
            if best is None or fit[top] > best[0]:
                best = float(fit[top]), number, top, fit
    if best is None:
        return None
    peak, number, top, fit = best
    delays_s = _delays(margin)[margin : fit.size + margin]
    # the peak's own flanks must not count as scatter
    others = fit[np.abs(delays_s - delays_s[top]) > _APART_S]
    others = others[np.isfinite(others)]
    if others.size < _LEAST_OTHERS:
        return None
    middle = float(np.median(others))
    # 1.4826 times the median deviation estimates a standard deviation that outliers do not move
    if peak - middle <= _LEAST_CONTRAST * 1.4826 * float(np.median(np.abs(others - middle))):
        return None
    return RoughAlignment(
        delay_s=float(delays_s[top]),
        drift_ppm=number * step_ppm,
        drift_step_ppm=step_ppm if count else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chunks:
    """Sum of scores and number of frames with telemetry [shape=(n_chunks, n_delays)]."""

    middle_s: FloatArray
    sums: FloatArray
    counts: FloatArray


def _delays(margin: int) -> FloatArray:
    steps = round(LARGEST_OFFSET_S / _STEP_S) + margin
    return _STEP_S * np.arange(-steps, steps + 1, dtype=np.float64)


def _score_chunks(evidence: DelayEvidence, track: SpeedTrack, margin: int) -> _Chunks:
    thin = rows(evidence, slice(None, None, _EVERY))
    numbers, chunk = np.unique((thin.time_s / CHUNK_S).astype(np.int64), return_inverse=True)
    delays_s = _delays(margin)
    sums = np.zeros((numbers.size, delays_s.size))
    counts = np.zeros_like(sums)

    def at_each_delay(of_grid: NDArray[_Any], start: IntArray) -> NDArray[_Any]:
        return sliding_window_view(of_grid, delays_s.size)[start]

    for row in range(numbers.size):
        part = rows(thin, chunk == row)
        # on a grid of one step in time each frame and delay meet a speed that was looked up once
        at = np.rint((part.time_s - part.time_s[0]) / _STEP_S).astype(np.int64)
        grid_s = part.time_s[0] + delays_s[0] + _STEP_S * np.arange(at[-1] + delays_s.size)
        position, known = part.position(track.at(grid_s))
        index = position.astype(np.int64)
        low = at_each_delay(index, at)
        low += part.score.shape[1] * np.arange(at.size)[:, np.newaxis]  # in the score as one row
        above, is_known = at_each_delay(position - index, at), at_each_delay(known, at)
        score = part.score.ravel()
        value = (1.0 - above) * score.take(low) + above * score.take(low + 1)
        # what the log does not cover counts as nothing, and is not counted
        sums[row] = (value * is_known).sum(axis=0)
        counts[row] = is_known.sum(axis=0)
    middle_s = (numbers.astype(np.float64) + 0.5) * CHUNK_S
    return _Chunks(middle_s=middle_s, sums=sums, counts=counts)


def _fit(chunks: _Chunks, shift: np.ndarray, margin: int) -> FloatArray:
    """Mean score over its usual value, less where few frames overlap [shape=(n_delays,)]."""
    width = chunks.sums.shape[1] - 2 * margin
    total, count = np.zeros(width), np.zeros(width)
    for row, steps in enumerate(shift):
        part = slice(margin + steps, margin + steps + width)
        total += chunks.sums[row, part]
        count += chunks.counts[row, part]
    enough = count >= max(_LEAST_FRAMES, _LEAST_OVERLAP * count.max())
    if not enough.any():
        return np.full(width, np.nan)
    mean = total / np.maximum(count, 1.0)
    usual = np.median(mean[enough])
    # the mean of few frames strays more, so a delay with little overlap must fit clearly better
    return np.where(enough, (mean - usual) * np.sqrt(count / count.max()), np.nan)
