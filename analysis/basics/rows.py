"""The same rows of every array that a dataclass holds."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import fields, replace
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from analysis.basics.arrays import BoolArray, ComplexArray, FloatArray, IntArray

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_Numbers = TypeVar("_Numbers", FloatArray, ComplexArray)
_Table = TypeVar("_Table", bound="DataclassInstance")


def rows(table: _Table, which: IntArray | BoolArray | slice | int) -> _Table:
    """Pick the same rows of every array in ``table``; what is not an array stays as it is.

    The first axis of all its arrays must count the same things, else IndexError or nonsense.
    """
    held = {each.name: getattr(table, each.name) for each in fields(table)}
    return replace(
        table, **{name: each[which] for name, each in held.items() if isinstance(each, np.ndarray)}
    )


def joined(one: _Table, other: _Table) -> _Table:
    """Put the rows of every array of ``other`` behind those of ``one``, whose rest stays."""
    held = {each.name: getattr(one, each.name) for each in fields(one)}
    return replace(
        one,
        **{
            name: np.concatenate([each, getattr(other, name)])
            for name, each in held.items()
            if isinstance(each, np.ndarray)
        },
    )


def in_pairs(values: _Numbers) -> _Numbers:
    """Mean of each two neighbours; an odd last one is left out."""
    last = values.size // 2 * 2
    return (values[0:last:2] + values[1:last:2]) / 2.0
