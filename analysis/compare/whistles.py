"""A new tone that stays put while engine speed changes: a branch can whistle in the gas stream.

A closed branch sings at its own frequency or three times it (Ziada and Lafon, Appl. Mech. Rev. 66
(2014), Strouhal numbers from memory).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.sound.steady_tones import (
    LEAST_ROWS,
    away_from_orders,
    running_level,
    standing_out_db,
)
from analysis.findings import Findings, SteadyTone

# judgement: only whether a new whistle is told; 20 % more of any showed none where there is none.
_LOWEST_HZ = 50.0
_OUT_DB, _NEW_DB = 8.0, 6.0  # out of its surroundings, and more so than before
_SAME_RPM = 0.011


def new_whistles(baseline: Findings, postfix: Findings) -> tuple[SteadyTone, ...]:
    """Tones that only the post-fix drive has, the one heard over most engine speeds first."""
    before, after = baseline.level_map, postfix.level_map
    if before is None or after is None or before.frequency_hz.size != after.frequency_hz.size:
        return ()
    rows = np.abs(before.rpm[np.newaxis, :] - after.rpm[:, np.newaxis]).argmin(axis=1)
    same = np.abs(before.rpm[rows] / after.rpm - 1.0) < _SAME_RPM
    if np.count_nonzero(same) < LEAST_ROWS:
        return ()
    out_db, out_before_db = standing_out_db(after), standing_out_db(before)[rows]
    is_new = (out_db > _OUT_DB) & (out_db - out_before_db > _NEW_DB)
    is_new[:, after.frequency_hz < _LOWEST_HZ] = False
    return running_level(after, is_new, same[:, np.newaxis] & away_from_orders(after))
