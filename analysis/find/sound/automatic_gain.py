"""Signs of automatic gain: the noise between the orders sinks whenever the engine gets louder.

Road and wind do not know of a drone. If the level between the high orders, over and above what
engine speed explains, falls as the orders rise, something in the recorder turned the gain down
(common practice, no source). A drive without a loud stretch shows nothing either way.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from enum import StrEnum

import numpy as np

from analysis.find.sound.order_tracking import ORDERS, OrderFrames

# judgement: they only decide whether a drive is doubted or withheld; 20 % more of all moved nothing
# on the benchmark's drives.
_FIRST_ORDER = 6.0  # below, the drone's own skirts reach into the gaps between orders
_LEAST_FRAMES = 100
_SILENCE_MS = 1e-14


class AutomaticGain(StrEnum):
    """How sure it is that the recorder changed its own gain."""

    NO = "no"
    LIKELY = "likely"
    CERTAIN = "certain"


# judgement: dB of background for each dB of the orders, and that over its own error. A recorder
# that levels out gives -1; nearer to zero, a gust that came with a soft order is blamed on it.
_LIMITS = {AutomaticGain.CERTAIN: (-0.5, 4.0), AutomaticGain.LIKELY: (-0.15, 1.6)}


def automatic_gain(frames: OrderFrames) -> AutomaticGain:
    """Whether the background gives way to the orders, beyond what chance would do."""
    if frames.time_s.size < _LEAST_FRAMES:
        return AutomaticGain.NO
    between_db = _level_db(frames.background_ms[:, ORDERS >= _FIRST_ORDER])
    orders_db = _level_db(frames.total_ms)
    speed = np.log(frames.rpm)
    speed = (speed - speed.mean()) / max(float(speed.std()), 1e-6)
    terms = np.stack([np.ones(speed.size), speed, speed**2, speed**3, orders_db], axis=1)
    solved, _, rank, _ = np.linalg.lstsq(terms, between_db, rcond=None)
    if rank < terms.shape[1]:
        return AutomaticGain.NO
    left = between_db - terms @ solved
    information = np.linalg.inv(terms.T @ terms)[4, 4]
    error = np.sqrt(information * left.var() * _dependence(left))
    for answer, (steepest, least_t) in _LIMITS.items():
        if solved[4] < min(steepest, -least_t * error):
            return answer
    return AutomaticGain.NO


def _level_db(mean_square: np.ndarray) -> np.ndarray:
    return np.asarray(10.0 * np.log10(mean_square.sum(axis=1) + _SILENCE_MS), dtype=np.float64)


def _dependence(left: np.ndarray) -> float:
    """Factor by which frames that err alike widen the error."""
    power = float(np.dot(left, left))
    lag = float(np.dot(left[1:], left[:-1])) / power if power > 0.0 else 0.0
    return (1.0 + lag) / max(1.0 - lag, 0.02)
