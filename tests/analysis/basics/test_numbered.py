"""Counted numbers, held beside numpy.unique, which sorts."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from analysis.basics.numbered import numbered


@pytest.mark.parametrize(("low", "high", "count"), [(0, 400, 5000), (-7, 3, 40), (250, 251, 9)])
def test_as_numpy_unique_has_it(low: int, high: int, count: int) -> None:
    values = np.random.default_rng(count).integers(low, high, count)
    present, where, times = np.unique(values, return_inverse=True, return_counts=True)
    found = numbered(values)
    assert np.array_equal(found.present, present)
    assert np.array_equal(found.where, where)
    assert np.array_equal(found.times, times)


def test_of_nothing_is_nothing() -> None:
    assert all(each.size == 0 for each in numbered(np.empty(0, dtype=np.int64)))
