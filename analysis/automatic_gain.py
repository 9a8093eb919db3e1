"""Signs of automatic gain: the noise between the orders sinks whenever the engine gets louder.

Road and wind do not know of a drone. If the level between the high orders, over and above what
engine speed explains, falls as the orders rise, something in the recorder turned the gain down
(common practice, no source). A drive without a loud stretch shows nothing either way.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.order_tracking import ORDERS, OrderFrames

_FIRST_ORDER = 6.0  # below, the drone's own skirts reach into the gaps between orders
_STEEPEST = -0.15  # dB of background for each dB of the orders
_LEAST_T = 1.6
_LEAST_FRAMES = 100
_SILENCE_MS = 1e-14


def automatic_gain(frames: OrderFrames) -> bool:
    """Whether the background gives way to the orders, beyond what chance would do."""
    if frames.time_s.size < _LEAST_FRAMES:
        return False
    between_db = _level_db(frames.background_ms[:, ORDERS >= _FIRST_ORDER])
    orders_db = _level_db(frames.total_ms)
    speed = np.log(frames.rpm)
    speed = (speed - speed.mean()) / max(float(speed.std()), 1e-6)
    terms = np.stack([np.ones(speed.size), speed, speed**2, speed**3, orders_db], axis=1)
    solved, _, rank, _ = np.linalg.lstsq(terms, between_db, rcond=None)
    if rank < terms.shape[1]:
        return False
    left = between_db - terms @ solved
    information = np.linalg.inv(terms.T @ terms)[4, 4]
    error = np.sqrt(information * left.var() * _dependence(left))
    return bool(solved[4] < _STEEPEST and solved[4] < -_LEAST_T * error)


def _level_db(mean_square: np.ndarray) -> np.ndarray:
    return np.asarray(10.0 * np.log10(mean_square.sum(axis=1) + _SILENCE_MS), dtype=np.float64)


def _dependence(left: np.ndarray) -> float:
    """Factor by which frames that err alike widen the error."""
    power = float(np.dot(left, left))
    lag = float(np.dot(left[1:], left[:-1])) / power if power > 0.0 else 0.0
    return (1.0 + lag) / max(1.0 - lag, 0.02)
