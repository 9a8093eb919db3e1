"""Power spectra averaged by engine speed, for both colour maps and the overall levels.

In a map over frequency a resonance lies level and an engine order slants; in one over orders it is
the other way round. What is level in neither is not the engine's.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.find.sound.frame_power import add_to_rows

_BINS_PER_ROW = 2  # rows 2 % high; judgement: detail of a picture, no drone is from it
_HANN_LINES = 1.5  # a Hann line passes the noise of 1.5 line spacings, by definition
_SILENCE_MS = 1e-20  # a definition: nothing, with a logarithm


class SpeedRows:
    """Sums of power spectra, ``lines`` wide, in a row for each 2 % up to ``highest_rpm``."""

    def __init__(self, highest_rpm: float, lines: int) -> None:
        self._top = max(0, int(bin_of(np.array([highest_rpm]))[0]) // _BINS_PER_ROW)
        self._sum = np.zeros((self._top + 1, lines))
        self._count = np.zeros(self._top + 1)

    def add(self, rpm: FloatArray, power: NDArray[np.float32]) -> None:
        """Add spectra [shape=(n_frames, lines)], each at its engine speed [shape=(n_frames,)]."""
        # at the edges a rounding may lead beyond the picture
        rows = np.clip(bin_of(rpm) // _BINS_PER_ROW, 0, self._top)
        add_to_rows(self._sum, rows, power)
        self._count += np.bincount(rows, minlength=self._count.size)

    @property
    def _seen(self) -> IntArray:
        return np.flatnonzero(self._count)

    @property
    def rpm(self) -> FloatArray:
        """Engine speeds met [shape=(n_rpm,)]."""
        return bin_centre_rpm(self._seen * _BINS_PER_ROW)

    @property
    def count(self) -> FloatArray:
        """How many spectra were met at each [shape=(n_rpm,)]."""
        return self._count[self._seen]

    def level_db(self, weights: FloatArray, level_offset_db: float) -> FloatArray:
        """Level of the weighted sum of the lines [shape=(n_rpm, n_weightings)].

        ``weights`` [shape=(lines, n_weightings)].
        """
        return np.asarray(10.0 * np.log10(self._mean @ weights + _SILENCE_MS) + level_offset_db)

    def line_db(self, level_offset_db: float) -> FloatArray:
        """Level of noise in the bandwidth of each line [shape=(n_rpm, lines)]."""
        return np.asarray(10.0 * np.log10(_HANN_LINES * self._mean + _SILENCE_MS) + level_offset_db)

    @property
    def _mean(self) -> FloatArray:
        return np.asarray(self._sum[self._seen] / self.count[:, np.newaxis])
