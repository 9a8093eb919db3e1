"""Exhaust gas from tables: interpolated, not worked out from thermodynamics.

Source of the tables: Cantera 3.2, frozen products of stoichiometric gasoline, ``gri30.yaml``.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_CELSIUS = np.array([20.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0])
_SPEED_M_S = np.array([339.66, 381.74, 427.94, 468.95, 506.00, 539.96, 571.51])
_RATIO = np.array([1.373, 1.363, 1.350, 1.339, 1.327, 1.316, 1.305])
_VISCOSITY_CELSIUS = np.array([20.0, 200.0, 400.0, 600.0])
_VISCOSITY_M2_S = np.array([1.36e-5, 3.21e-5, 5.92e-5, 9.26e-5])
_PRESSURE_PA = 101_325.0
PRANDTL = 0.71


class State(NamedTuple):
    """Gas at one temperature or many; fields have one shape."""

    speed_m_s: FloatArray
    density_kg_m3: FloatArray
    viscosity_m2_s: FloatArray
    heat_ratio: FloatArray


def state(temperature_c: FloatArray) -> State:
    """Look up the gas; any shape, 20 to 600 degC (held at the ends beyond)."""
    speed = np.sqrt(np.interp(temperature_c, _CELSIUS, _SPEED_M_S**2))
    ratio = np.interp(temperature_c, _CELSIUS, _RATIO)
    root = np.interp(temperature_c, _VISCOSITY_CELSIUS, np.sqrt(_VISCOSITY_M2_S))
    return State(speed, ratio * _PRESSURE_PA / speed**2, root**2, ratio)
