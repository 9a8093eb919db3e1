"""Maps made small enough for a page: cut, and neighbours averaged as power."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray

# judgement: points of a map; a page of a few megabytes, moves no answer
_MOST_ROWS, _MOST_COLUMNS = 240, 320


def thinned(
    rpm: FloatArray, across: FloatArray, level_db: FloatArray, top: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rows, columns up to ``top`` and levels [shape=(n_rows, n_columns)] of a smaller map."""
    keep = across <= top
    if keep.sum() < 2:
        keep = np.ones_like(keep)
    across, level_db = across[keep], level_db[:, keep]
    rows = -(-rpm.size // _MOST_ROWS)
    columns = -(-across.size // _MOST_COLUMNS)
    power = _block_mean(_block_mean(10.0 ** (level_db / 10.0), rows).T, columns).T
    with np.errstate(divide="ignore"):
        small_db = 10.0 * np.log10(power)
    small_db[~np.isfinite(small_db)] = np.nan
    return _block_mean(rpm, rows), _block_mean(across, columns), small_db


def _block_mean(values: FloatArray, size: int) -> FloatArray:
    """Mean over blocks of ``size`` along the first axis, NaN left out."""
    if size == 1:
        return values.copy()
    starts = np.arange(0, values.shape[0], size)
    known = np.isfinite(values)
    total = np.add.reduceat(np.where(known, values, 0.0), starts, axis=0)
    count = np.add.reduceat(known.astype(float), starts, axis=0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)
