"""Where pulses begin in the sound of an ignition pickup, to a fraction of a sample.

A spark gives the clip on its lead a short, steep, ringing pulse of either sign. A high-pass takes
hum and engine sound away; what then stands out from its own quiet moments is an edge. Its place is
where the rising side passes a fixed share of the pulse's height, which does not move when pulses
grow or shrink. Whether an edge belongs to the engine is for :mod:`logger.sources.pulse.train`.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from logger.arrays import FloatArray, Samples

# judgement: all of these. Lower thresholds take ringing or another lead for a spark, higher ones
# miss weak sparks; the rhythm must then fit, so either costs rpm values before it makes a wrong
# one.
_HIGH_PASS_HZ = 1500.0  # engine sound and hum are below, the steep side of a pulse above
_BIN_S = 0.25e-3
_QUIET_SHARE = 30.0  # percent of all bins that hold no pulse, even at 600 pulses a second
_TIMES_QUIET = 10.0  # noise goes to three; sounds that ring on from pulse to pulse beyond
_LEAST = 1e-3  # of full scale
_SHARE_OF_USUAL = 0.15  # ringing and what other leads send over stays below
_SPIKE = 3.0  # a height above so many usual ones does not raise the threshold
_RING_GAP_S = 0.25e-3  # ringing crosses the threshold again sooner than this
_RISE_S = 0.5e-3
_ONSET_SHARE = 0.3  # below the first swing of any damped ringing


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """Edges in rising order.

    Attributes
    ----------
    frames, heights : ndarray [shape=(n_edges,)]
        Where each begins, and its largest value behind the high-pass.
    complete_to : float
        All edges before this frame were given by now.
    """

    frames: FloatArray
    heights: FloatArray
    complete_to: float


class EdgeFinder:
    """Finds edges in one channel, a stretch at a time.

    Parameters
    ----------
    sample_rate_hz : int
    first_frame : int
        Frame of the first sample that will be fed.
    """

    def __init__(self, sample_rate_hz: int, first_frame: int) -> None:
        self._sos = signal.butter(2, _HIGH_PASS_HZ, "highpass", fs=sample_rate_hz, output="sos")
        self._state: FloatArray | None = None
        self._bin = max(1, round(_BIN_S * sample_rate_hz))
        self._gap = max(2, round(_RING_GAP_S * sample_rate_hz))
        self._rise = max(4, round(_RISE_S * sample_rate_hz))
        self._kept = np.zeros(self._gap)  # rectified; its first _gap samples are done with
        self._kept_from = first_frame - self._gap

    def feed(self, samples: Samples, usual_height: float | None) -> Edges:
        """Look at the next samples [shape=(n,)]; ``usual_height`` is that of pulses so far."""
        # rectified, because the pickup's sign depends on which way round the clip sits
        heard = np.abs(np.concatenate([self._kept, self._high_pass(samples)]))
        done = max(self._gap, heard.size - 2 * self._rise)
        starts, threshold = self._starts(heard, done, usual_height)
        heights = np.maximum.reduceat(heard, starts) if starts.size else np.empty(0)
        places = [
            self._onset(heard, start, max(threshold, _ONSET_SHARE * height))
            for start, height in zip(starts.tolist(), heights.tolist(), strict=True)
        ]
        frames = np.array(places, dtype=np.float64) + self._kept_from
        # a pulse that began in this stretch may go on in the next
        self._kept = heard[done - self._gap :]
        self._kept_from += done - self._gap
        return Edges(frames=frames, heights=heights, complete_to=float(self._kept_from + self._gap))

    def _high_pass(self, samples: Samples) -> FloatArray:
        wide = samples.astype(np.float64)
        if self._state is None:
            first = wide[0] if wide.size else 0.0
            # as if the first value had stood for ever: a step at the start would be a pulse
            self._state = signal.sosfilt_zi(self._sos) * first
        filtered, self._state = signal.sosfilt(self._sos, wide, zi=self._state)
        return np.asarray(filtered)

    def _starts(
        self, heard: FloatArray, done: int, usual_height: float | None
    ) -> tuple[NDArray[np.intp], float]:
        whole = heard[: heard.size // self._bin * self._bin].reshape(-1, self._bin)
        if not whole.size:
            return np.empty(0, dtype=np.intp), math.inf
        in_bins = whole.max(axis=1)
        quiet = float(np.percentile(in_bins, _QUIET_SHARE))
        highest = float(in_bins.max())
        if usual_height is not None:
            # one loud crackle must not hide the pulses beside it
            highest = min(highest, _SPIKE * usual_height)
        # above the noise, above ringing, and above nothing at all when the engine is off
        threshold = max(_LEAST, _TIMES_QUIET * quiet, _SHARE_OF_USUAL * highest)
        above = np.flatnonzero(heard[:done] > threshold)
        is_start = np.diff(above, prepend=-self._gap) > self._gap
        starts = above[is_start]
        return starts[starts >= self._gap], threshold

    def _onset(self, heard: FloatArray, start: int, level: float) -> float:
        rising = heard[start : start + self._rise] > level
        at = start + int(np.argmax(rising))
        before, here = heard[at - 1], heard[at]
        if not before < level <= here:
            return float(at)
        return at - 1 + float((level - before) / (here - before))
