"""Tones that stand at one pitch all the drive, found without knowing the engine's speed.

A hum outvotes the orders of a soft engine. Its line is there nearly always, where any order has
swept on, so it is what is left in the softest tenth of the moments at each frequency.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_lines import CHUNK_STEP_S, line_spacing_hz, lines_standing_out
from analysis.findings import SteadyTone

# judgement: of the moments, those without it; an order would have to stay for all others
_WITHOUT = 0.2
_STANDS_OUT_DB = 6.0  # noise has 0 to 2 in its softest fifth
_APART_HZ = 6.0  # as of :mod:`analysis.find.sound.steady_tones`
_LOWEST_HZ = 20.0
_MOST = 8  # judgement: more are music
_MOST_CHUNKS = 20  # of half a minute: memory stays flat over hours


def standing_tones(copy: WorkingCopy) -> tuple[SteadyTone, ...]:
    """Tones that stand in four fifths of the moments, at no known engine speed; softest last."""
    starts_s = np.arange(0.0, copy.duration_s, CHUNK_STEP_S)
    starts_s = starts_s[:: 1 + starts_s.size // _MOST_CHUNKS]
    line_db = np.concatenate([lines_standing_out(copy, at)[1] for at in starts_s])
    if line_db.size == 0:
        return ()
    spacing_hz = line_spacing_hz(copy)
    always_db = np.quantile(line_db, _WITHOUT, axis=0)
    found: list[SteadyTone] = []
    for line in np.argsort(-always_db, kind="stable"):
        hz = float(line * spacing_hz)
        if always_db[line] < _STANDS_OUT_DB or len(found) == _MOST:
            break
        if hz > _LOWEST_HZ and all(abs(hz - other.frequency_hz) > _APART_HZ for other in found):
            found.append(
                SteadyTone(
                    frequency_hz=hz,
                    low_rpm=np.nan,
                    high_rpm=np.nan,
                    out_db=float(always_db[line]),
                )
            )
    return tuple(found)
