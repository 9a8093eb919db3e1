"""A new tone that stays put while engine speed changes: a branch can whistle in the gas stream.

A closed branch sings at its own frequency or three times it (Ziada and Lafon, Appl. Mech. Rev. 66
(2014), Strouhal numbers from memory). In a map of level over engine speed and frequency such a tone
runs level, where every order of the engine rises.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.ndimage import median_filter

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.findings import Findings, LevelMap
from analysis.verdicts import Whistle

# judgement: only whether a new whistle is told. Lower limits take a tyre or the wind for one,
# higher ones miss a soft one; 20 % more of any showed none where there is none.
_LOWEST_HZ = 50.0
_AROUND_HZ = 24.0
_OUT_DB, _NEW_DB = 8.0, 6.0  # out of its surroundings, and more so than before
_ORDER_HZ, _ORDER_SHARE = 3.0, 0.01  # nearer to an order than this nothing can be told
_LEAST_ROWS = 5  # of 2 % of engine speed: by then any order has moved by 10 %
_SAME_RPM = 0.011
_APART_HZ = 6.0


def new_whistles(baseline: Findings, postfix: Findings) -> tuple[Whistle, ...]:
    """Tones that only the post-fix drive has, the one heard over most engine speeds first."""
    before, after = baseline.level_map, postfix.level_map
    if before is None or after is None or before.frequency_hz.size != after.frequency_hz.size:
        return ()
    rows = np.abs(before.rpm[np.newaxis, :] - after.rpm[:, np.newaxis]).argmin(axis=1)
    same = np.abs(before.rpm[rows] / after.rpm - 1.0) < _SAME_RPM
    if np.count_nonzero(same) < _LEAST_ROWS:
        return ()
    out_db, out_before_db = _standing_out_db(after), _standing_out_db(before)[rows]
    can_tell = same[:, np.newaxis] & ~_near_an_order(after)
    is_new = can_tell & (out_db > _OUT_DB) & (out_db - out_before_db > _NEW_DB)
    is_new[:, after.frequency_hz < _LOWEST_HZ] = False
    runs = [_longest_run(is_new[:, c], can_tell[:, c]) for c in range(is_new.shape[1])]
    found: list[Whistle] = []
    for column in np.argsort([-run.size for run in runs], kind="stable"):
        run, hz = runs[column], float(after.frequency_hz[column])
        if run.size < _LEAST_ROWS:
            break
        if all(abs(hz - other.frequency_hz) > _APART_HZ for other in found):
            found.append(
                Whistle(
                    frequency_hz=hz,
                    low_rpm=float(after.rpm[run[0]]),
                    high_rpm=float(after.rpm[run[-1]]),
                    out_db=float(np.median(out_db[run, column])),
                )
            )
    return tuple(found)


def _longest_run(is_new: BoolArray, can_tell: BoolArray) -> IntArray:
    """Rows of the longest stretch with the tone in every row that can tell; both [n_rpm]."""
    told = np.flatnonzero(can_tell)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_new[told].astype(np.int8), [0]])))
    begins, ends = edges[::2], edges[1::2]
    if begins.size == 0:
        return np.empty(0, dtype=np.int64)
    best = int((ends - begins).argmax())
    return told[begins[best] : ends[best]]


def _standing_out_db(picture: LevelMap) -> FloatArray:
    spacing_hz = float(picture.frequency_hz[1] - picture.frequency_hz[0])
    around = round(_AROUND_HZ / spacing_hz) | 1
    level = np.nan_to_num(picture.level_db, nan=-200.0)
    return np.asarray(level - median_filter(level, size=(1, around), mode="nearest"))


def _near_an_order(picture: LevelMap) -> BoolArray:
    """Whether a cell lies on a half order of its engine speed [shape=(n_rpm, n_frequency)]."""
    step_hz = 0.5 * picture.rpm[:, np.newaxis] / 60.0
    nearest = np.rint(picture.frequency_hz[np.newaxis, :] / step_hz) * step_hz
    away_hz = np.abs(picture.frequency_hz[np.newaxis, :] - nearest)
    return np.asarray(away_hz < _ORDER_HZ + _ORDER_SHARE * picture.frequency_hz[np.newaxis, :])
