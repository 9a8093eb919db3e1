"""Levels of mean squares, as they are told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray

_DB_OF_E = 10.0 / np.log(10.0)  # level of a factor e, by definition
_Floating = TypeVar("_Floating", bound=np.floating)


def level_db(mean_square: FloatArray, full_scale_db: float = 0.0) -> FloatArray:
    """Level of a mean square, any shape; NaN where there is nothing above the noise."""
    positive = np.where(mean_square > 0.0, mean_square, np.nan)
    return np.asarray(full_scale_db + 10.0 * np.log10(positive))


def into_db(power: NDArray[_Floating], least: float) -> NDArray[_Floating]:
    """Turn powers into levels where they stand, ``least`` added to each; any shape.

    In place, since of a drive of hours there is no room for copies; and by the natural logarithm,
    which numpy works out four times faster in single precision than the other.
    """
    power += power.dtype.type(least)
    np.log(power, out=power)
    power *= power.dtype.type(_DB_OF_E)
    return power
