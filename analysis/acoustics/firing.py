"""Engine orders, and how strongly a firing pattern excites each of them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def order_hz(engine_order: float, rpm: float) -> float:
    """Frequency of an engine order: so many periods for each turn of the crankshaft."""
    return engine_order * rpm / 60.0


def order_rpm(engine_order: float, frequency_hz: float) -> float:
    """Engine speed at which an order has this frequency."""
    return 60.0 * frequency_hz / engine_order


def firing_amplitudes(
    crank_angles_deg: ArrayLike, engine_orders: ArrayLike
) -> NDArray[np.complex128]:
    """Complex amplitude of each order in a train of equal, short pulses.

    ``A_h = sum exp(-j h phi_i) / N``: 1 where all pulses add up, 0 where they cancel. The pulse
    shape and the pipes behind it come on top.

    Parameters
    ----------
    crank_angles_deg : array_like [shape=(n_pulses,)]
        When each cylinder that feeds the pipe fires; 0 to 720 for a four-stroke engine.
    engine_orders : array_like [shape=(n_orders,)]
        Multiples of 0.5 for a four-stroke engine, of 1 for a two-stroke.

    Returns
    -------
    ndarray [shape=(n_orders,)]
    """
    angles = np.deg2rad(np.asarray(crank_angles_deg, dtype=np.float64))
    orders = np.asarray(engine_orders, dtype=np.float64)
    return np.asarray(np.exp(-1j * np.outer(orders, angles)).mean(axis=1), dtype=np.complex128)
