"""Values no car gives: marks for "no value", and numbers outside what is possible.

The marks are common practice, no source: the largest raw value of one or two bytes after the
scaling of the usual request, and minus one. Ranges are wide on purpose.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Plausible:
    """What a quantity may be: ``low`` to ``high`` in session units, ``marks`` in the file's."""

    low: float
    high: float
    marks: tuple[float, ...] = ()


_LEVEL = Plausible(low=-150.0, high=200.0, marks=(-999.0, -99.9, 999.0))
PLAUSIBLE = {
    "rpm": Plausible(low=0.0, high=20_000.0, marks=(-1.0, 16383.75, 65535.0, 32767.0)),
    "road_speed_m_s": Plausible(low=0.0, high=150.0, marks=(-1.0, 255.0, 65535.0)),
    "load_percent": Plausible(low=0.0, high=100.5, marks=(-1.0, 255.0)),
    "throttle_percent": Plausible(low=0.0, high=100.5, marks=(-1.0, 255.0)),
    "manifold_pressure_kpa": Plausible(low=1.0, high=600.0, marks=(-1.0, 65535.0)),
    "coolant_temperature_degc": Plausible(low=-50.0, high=160.0, marks=(-40.0, 215.0)),
    "catalyst_temperature_degc": Plausible(low=-50.0, high=1300.0, marks=(-40.0, 6513.5)),
    "level_a_db": _LEVEL,
    "level_c_db": _LEVEL,
    "level_z_db": _LEVEL,
}


def drop_implausible(
    kind: str, raw: FloatArray, scaled: FloatArray
) -> tuple[FloatArray, dict[str, int]]:
    """Leave out what cannot be.

    Parameters
    ----------
    kind : str
        A key of :data:`PLAUSIBLE`.
    raw, scaled : ndarray [shape=(n,)]
        In the file's unit and in the session's.

    Returns
    -------
    values : ndarray [shape=(n,)]
        ``scaled`` with NaN for what was left out.
    dropped : dict of str to int
        Reason to count.
    """
    limits = PLAUSIBLE[kind]
    dropped: dict[str, int] = {}
    values = scaled.copy()
    for mark in limits.marks:
        is_mark = raw == mark
        if is_mark.any():
            dropped[f"{mark:.10g} is a mark for no value"] = int(is_mark.sum())
            values[is_mark] = np.nan
    outside = np.isfinite(values) & ((values < limits.low) | (values > limits.high))
    if outside.any():
        dropped[f"outside {limits.low:g} to {limits.high:g}"] = int(outside.sum())
        values[outside] = np.nan
    return values, dropped
