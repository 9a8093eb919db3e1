"""Tones that keep their pitch whatever the engine does: a fan, a pump, the mains, an adapter's hum.

In a picture of level over engine speed and frequency such a tone runs level, where every order of
the engine rises. An order that crosses it swells there like a drone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.ndimage import median_filter

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.findings import LevelMap, SteadyTone

# judgement: what runs level over so many engine speeds is a tone. Lower limits take a tyre or the
# wind for one, higher ones miss a soft one; 20 % more of any showed none where there is none.
_AROUND_HZ = 24.0
_OUT_DB = 6.0  # out of its surroundings
_ORDER_HZ, _ORDER_SHARE = 3.0, 0.01  # nearer to an order than this nothing can be told
LEAST_ROWS = 5  # of 2 % of engine speed: by then any order has moved by 10 %
_APART_HZ = 6.0


def steady_tones(picture: LevelMap) -> tuple[SteadyTone, ...]:
    """Tones of a drive, the one heard over most engine speeds first."""
    return running_level(picture, standing_out_db(picture) > _OUT_DB, away_from_orders(picture))


def running_level(
    picture: LevelMap, stands_out: BoolArray, can_tell: BoolArray
) -> tuple[SteadyTone, ...]:
    """Frequencies that stand out in every row of a run that can tell, the longest run first.

    ``stands_out``, ``can_tell`` [shape=(n_rpm, n_frequency)], the latter false where an order may
    be what stands out.
    """
    columns = range(picture.frequency_hz.size)
    runs = [_longest_run(stands_out[:, c] & can_tell[:, c], can_tell[:, c]) for c in columns]
    out_db = standing_out_db(picture)
    found: list[SteadyTone] = []
    # stable, so that of runs alike the lowest frequency comes first on every machine
    for column in np.argsort([-run.size for run in runs], kind="stable"):
        run = runs[column]
        if run.size < LEAST_ROWS:
            break
        # a tone fills the two lines to either side of its own as well
        beside = np.arange(max(column - 2, 0), min(column + 3, len(runs)))
        told_db = np.where(can_tell[run], out_db[run], 0.0)[:, beside]
        along_db = np.median(told_db, axis=0)
        hz = float(picture.frequency_hz[beside[along_db.argmax()]])
        if all(abs(hz - other.frequency_hz) > _APART_HZ for other in found):
            found.append(
                SteadyTone(
                    frequency_hz=hz,
                    low_rpm=float(picture.rpm[run[0]]),
                    high_rpm=float(picture.rpm[run[-1]]),
                    out_db=float(along_db.max()),
                )
            )
    return tuple(found)


def _longest_run(is_tone: BoolArray, can_tell: BoolArray) -> IntArray:
    """Rows of the longest stretch with the tone in every row that can tell; both [n_rpm]."""
    told = np.flatnonzero(can_tell)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_tone[told].astype(np.int8), [0]])))
    begins, ends = edges[::2], edges[1::2]
    if begins.size == 0:
        return np.empty(0, dtype=np.int64)
    best = int((ends - begins).argmax())
    return told[begins[best] : ends[best]]


def standing_out_db(picture: LevelMap) -> FloatArray:
    """How far each cell stands out of those beside it [shape=(n_rpm, n_frequency)]."""
    spacing_hz = float(picture.frequency_hz[1] - picture.frequency_hz[0])
    around = round(_AROUND_HZ / spacing_hz) | 1
    # a cell without sound is silent, or one of them would make all around it unknown
    level = np.nan_to_num(picture.level_db, nan=-200.0)
    return np.asarray(level - median_filter(level, size=(1, around), mode="nearest"))


def away_from_orders(picture: LevelMap) -> BoolArray:
    """Whether a cell lies clear of the half orders of its engine speed, same shape."""
    step_hz = 0.5 * picture.rpm[:, np.newaxis] / 60.0
    nearest = np.rint(picture.frequency_hz[np.newaxis, :] / step_hz) * step_hz
    away_hz = np.abs(picture.frequency_hz[np.newaxis, :] - nearest)
    return np.asarray(away_hz > _ORDER_HZ + _ORDER_SHARE * picture.frequency_hz[np.newaxis, :])
