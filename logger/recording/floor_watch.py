"""Notice that the sound itself changed at once: another microphone in its place, or a hand on it.

No sound system tells when somebody turns the gain, swaps two microphones of one name, or lays a
hand on the one that is recorded. But then the sound changes within a moment, stays changed, and
does so at all pitches, or at all high ones. What an engine, a road or a gust does comes more slowly
or at some pitches only. So the levels in octaves are laid side by side, three seconds before a
moment and three after it; a change is told where even the loudest tenth of the quiet side lies
below the softest tenth of the other.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from logger.arrays import FloatArray, Samples

_FRAME_S = 0.1  # judgement: shorter frames scatter more, longer ones blur the moment
# judgement: on 76 drives made as hostile as a road, 2 s tell twice as many gusts, and 4 s find
# fewer gains turned by 12 dB (69 instead of 75 of a hundred)
_SIDE_FRAMES = 30
_BETWEEN_FRAMES = 2  # in which the change itself falls
_LOWEST_HZ = 31.25  # octaves from here up to half of the sample rate; judgement
_HIGH_HZ = 1000.0  # from here up a hand on the microphone takes most; judgement
# judgement, both: limits in dB between the sides. On the same drives the highest without any change
# were 2.3 and 7.1, but for gusts (6.3 and 9.0).
_ALL_APART_DB = 3.0  # one octave may be left out
_HIGH_APART_DB = 9.0
_SHARE = 10.0  # percent of each side that may lie beyond
_SILENCE = 1e-14  # mean square; below any sound, keeps the logarithm finite


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorChange:
    """When the sound changed, and by how many dB the median octave did."""

    at_s: float
    by_db: float


class FloorWatch:
    """Feed it the sound of the cabin, block by block."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._size = round(_FRAME_S * sample_rate_hz)
        self._rate_hz = sample_rate_hz
        self._window = np.hanning(self._size)[:, np.newaxis]
        count = max(0, math.floor(math.log2(0.5 * sample_rate_hz / _LOWEST_HZ)))
        edges_hz = _LOWEST_HZ * 2.0 ** np.arange(count + 1)
        self._edges = np.searchsorted(np.fft.rfftfreq(self._size, 1.0 / sample_rate_hz), edges_hz)
        self._is_high = edges_hz[:-1] >= _HIGH_HZ
        self._parts: list[Samples] = []
        self._levels_db: deque[FloatArray] = deque(maxlen=2 * _SIDE_FRAMES + _BETWEEN_FRAMES)

    def forget(self) -> None:
        """Begin anew: what comes next does not follow what came before."""
        self._parts.clear()
        self._levels_db.clear()

    def note(self, samples: Samples, end_s: float) -> FloorChange | None:
        """Take a block [shape=(n_frames, n_channels)] that ends at session time ``end_s``."""
        if not self._is_high.any() or not samples.size:
            return None
        self._parts.append(samples)
        if sum(map(len, self._parts)) < self._size:
            return None
        waiting = np.concatenate(self._parts)
        change = None
        for start in range(0, len(waiting) - self._size + 1, self._size):
            self._levels_db.append(self._octaves_db(waiting[start : start + self._size]))
            behind_s = (len(waiting) - start - self._size) / self._rate_hz
            change = self._look(end_s - behind_s) or change
        self._parts = [waiting[len(waiting) // self._size * self._size :]]
        return change

    def _octaves_db(self, frame: Samples) -> FloatArray:
        power = np.abs(np.fft.rfft(frame * self._window, axis=0)) ** 2
        summed = np.add.reduceat(power.sum(axis=1), self._edges[:-1])
        # the last of these runs to the end of the spectrum, beyond its octave
        summed[-1] = power[self._edges[-2] : self._edges[-1]].sum()
        return np.asarray(10.0 * np.log10(summed + _SILENCE))

    def _look(self, now_s: float) -> FloorChange | None:
        if len(self._levels_db) < 2 * _SIDE_FRAMES + _BETWEEN_FRAMES:
            return None
        levels_db = np.array(self._levels_db)
        sides = levels_db[:_SIDE_FRAMES], levels_db[-_SIDE_FRAMES:]
        (low_a, mid_a, high_a), (low_b, mid_b, high_b) = (
            np.percentile(side, (_SHARE, 50.0, 100.0 - _SHARE), axis=0) for side in sides
        )
        louder_db, softer_db = low_b - high_a, low_a - high_b
        all_apart_db = np.sort(np.maximum(louder_db, softer_db))[1]
        high_apart_db = max(louder_db[self._is_high].min(), softer_db[self._is_high].min())
        if all_apart_db < _ALL_APART_DB and high_apart_db < _HIGH_APART_DB:
            return None
        self.forget()
        at_s = now_s - (_SIDE_FRAMES + 0.5 * _BETWEEN_FRAMES) * _FRAME_S
        return FloorChange(at_s=at_s, by_db=float(np.median(mid_b - mid_a)))
