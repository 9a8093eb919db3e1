"""Levels of mean squares, as they are told."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray


def level_db(mean_square: FloatArray, full_scale_db: float = 0.0) -> FloatArray:
    """Level of a mean square, any shape; NaN where there is nothing above the noise."""
    positive = np.where(mean_square > 0.0, mean_square, np.nan)
    return np.asarray(full_scale_db + 10.0 * np.log10(positive))
