"""Values of a file that no car gives: marks for "no value", and what cannot be."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from logger.arrays import FloatArray
from logger.folder.quantities import LIMITS

# The largest raw value of one or two bytes, also as it comes out of the scaling of the usual
# request (SAE J1979), and minus one.
_LEVEL_MARKS = (-999.0, -99.9, 999.0)
_MARKS = {
    "rpm": (-1.0, 16383.75, 65535.0, 32767.0),
    "road_speed_m_s": (-1.0, 255.0, 65535.0),
    "load_percent": (-1.0, 255.0),
    "throttle_percent": (-1.0, 255.0),
    "manifold_pressure_kpa": (-1.0, 65535.0),
    "coolant_temperature_degc": (-40.0, 215.0),
    "catalyst_temperature_degc": (-40.0, 6513.5),
    "level_a_db": _LEVEL_MARKS,
    "level_c_db": _LEVEL_MARKS,
    "level_z_db": _LEVEL_MARKS,
}


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
    for mark in _MARKS[kind]:
        is_mark = raw == mark
        if is_mark.any():
            dropped[f"{mark:.10g} is a mark for no value"] = int(is_mark.sum())
            values[is_mark] = np.nan
    outside = np.isfinite(values) & ((values < limits.low) | (values > limits.high))
    if outside.any():
        dropped[f"outside {limits.low:g} to {limits.high:g}"] = int(outside.sum())
        values[outside] = np.nan
    return values, dropped
