"""Moments of a drive gathered by pass and rpm bin."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import bin_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PassBins:
    """Each pair of a pass and an rpm bin that any moment lies in, in rising order.

    Attributes
    ----------
    pass_index, bin_index : the pairs [shape=(n_points,)]
    count : moments in each [shape=(n_points,)]
    where : pair of each moment [shape=(n_moments,)]
    """

    pass_index: IntArray
    bin_index: IntArray
    count: IntArray
    where: NDArray[np.intp]

    def mean(self, values: NDArray[np.floating]) -> FloatArray:
        """Mean of the moments of each pair; ``values`` [shape=(n_moments, ...)]."""
        flat = values.reshape(values.shape[0], -1)
        means = np.empty((self.count.size, flat.shape[1]))
        for column in range(flat.shape[1]):
            means[:, column] = np.bincount(self.where, weights=flat[:, column]) / self.count
        return means.reshape(self.count.size, *values.shape[1:])


def by_pass_and_bin(pass_index: IntArray, rpm: FloatArray) -> PassBins:
    """Gather moments; both arrays [shape=(n_moments,)]."""
    bins = bin_of(rpm)
    lowest, stride = (int(bins.min()), int(np.ptp(bins)) + 1) if bins.size else (0, 1)
    key = pass_index * stride + (bins - lowest)
    keys, where, count = np.unique(key, return_inverse=True, return_counts=True)
    return PassBins(
        pass_index=keys // stride, bin_index=keys % stride + lowest, count=count, where=where
    )
