"""Which small whole numbers there are among many, by counting: a sort takes ten times as long."""
# SPDX-License-Identifier: GPL-2.0-or-later

from typing import NamedTuple

import numpy as np

from analysis.basics.arrays import IntArray


class Numbered(NamedTuple):
    """What is among some numbers, as ``numpy.unique`` gives it.

    ``present`` [shape=(n_present,)] rises, ``where`` [shape=(n,)] is the place of each number in
    it, ``times`` [shape=(n_present,)] how often it is there.
    """

    present: IntArray
    where: IntArray
    times: IntArray


def numbered(values: IntArray) -> Numbered:
    """Look at numbers [shape=(n,)] that lie no farther apart than memory has room for.

    Such are rpm bins and passes, of which there are some hundreds.
    """
    if values.size == 0:
        nothing = np.empty(0, dtype=np.int64)
        return Numbered(nothing, nothing, nothing)
    first = values.min()
    count = np.bincount(values - first)
    present = np.flatnonzero(count)
    place = np.zeros(count.size, dtype=np.int64)
    place[present] = np.arange(present.size)
    return Numbered(present + first, place[values - first], count[present])
