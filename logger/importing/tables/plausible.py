"""Values of a file that no car gives: marks for "no value", and what cannot be."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from logger.arrays import FloatArray
from logger.folder.quantities import LIMITS
from logger.importing.tables.column_names import KINDS, kind_of_own


def drop_implausible(
    kind: str, raw: FloatArray, scaled: FloatArray
) -> tuple[FloatArray, dict[str, int]]:
    """Leave out what cannot be.

    Parameters
    ----------
    kind : str
        A key of :data:`logger.folder.quantities.LIMITS`.
    raw, scaled : ndarray [shape=(n,)]
        In the file's unit and in the session's.

    Returns
    -------
    values : ndarray [shape=(n,)]
        ``scaled`` with NaN for what was left out.
    dropped : dict of str to int
        Reason to count.
    """
    limits = LIMITS[kind]
    dropped: dict[str, int] = {}
    values = scaled.copy()
    for mark in KINDS[kind_of_own(kind)].marks:
        is_mark = raw == mark
        if is_mark.any():
            dropped[f"{mark:.10g} is a mark for no value"] = int(is_mark.sum())
            values[is_mark] = np.nan
    outside = np.isfinite(values) & ((values < limits.low) | (values > limits.high))
    if outside.any():
        dropped[f"outside {limits.low:g} to {limits.high:g}"] = int(outside.sum())
        values[outside] = np.nan
    return values, dropped
