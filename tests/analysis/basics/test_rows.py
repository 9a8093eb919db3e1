"""Rows of every array of a dataclass, picked and put behind each other."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.rows import joined, rows


@dataclass(frozen=True, kw_only=True)
class Table:
    """One row for each, and a number for all."""

    one: FloatArray
    many: FloatArray
    of_all: float


def test_what_is_put_together_comes_apart_again() -> None:
    first = Table(one=np.array([1.0, 2.0]), many=np.ones((2, 3)), of_all=5.0)
    other = Table(one=np.array([3.0]), many=np.zeros((1, 3)), of_all=7.0)
    both = joined(first, other)
    assert both.one.tolist() == [1.0, 2.0, 3.0]
    assert both.many.shape == (3, 3)
    assert both.of_all == 5.0
    assert rows(both, slice(2, 3)).one.tolist() == other.one.tolist()
    assert rows(both, slice(2, 3)).many.tolist() == other.many.tolist()
