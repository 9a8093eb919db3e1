"""The overall level pass by pass, so that it can be compared like with like."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.find.curves.driven import Driven
from analysis.find.curves.order_curves import binned
from analysis.find.sound.level_map import HOP_S, FrameLevels
from analysis.find.sound.order_tracking import OrderFrames
from analysis.find.sound.speed_track import SpeedTrack
from analysis.findings import OverallPasses, Weighting

# of a frame's hop: a sweep crosses more than one rpm bin in a hop; judgement: finer moves no level
_PARTS = 3
_NEAR_S = 0.5  # a moment this far from any whose pass is known has none


def overall_passes(
    levels: FrameLevels, track: SpeedTrack, driven: Driven
) -> tuple[OverallPasses, ...]:
    """Each weighting's level in each pass and rpm bin, whatever moments ``driven`` has."""
    steps_s = HOP_S * ((np.arange(_PARTS) + 0.5) / _PARTS - 0.5)
    time_s = (levels.time_s[:, np.newaxis] + steps_s).ravel()
    rpm = track.at(time_s)
    nearest = _nearest(driven.time_s, time_s)
    usable = np.isfinite(rpm) & (np.abs(driven.time_s[nearest] - time_s) < _NEAR_S)
    # what is not usable is let go of: an hour has 43,200 moments
    time_s, rpm, nearest = time_s[usable], rpm[usable], nearest[usable]
    mean_square = levels.mean_square[np.flatnonzero(usable) // _PARTS]
    # a weighting is binned as an order is, with no background known
    frames = OrderFrames(
        time_s=time_s,
        rpm=rpm,
        total_ms=mean_square,
        background_ms=np.broadcast_to(0.0, mean_square.shape),
    )
    there = rows(driven, nearest)
    every = binned(frames, there, np.arange(len(Weighting), dtype=np.float64), HOP_S / _PARTS)
    return tuple(
        OverallPasses(weighting=weighting, **points.pass_columns())
        for weighting, points in zip(Weighting, every, strict=True)
    )


def _nearest(known_s: FloatArray, time_s: FloatArray) -> IntArray:
    after = np.clip(np.searchsorted(known_s, time_s), 1, known_s.size - 1)
    is_before = time_s - known_s[after - 1] < known_s[after] - time_s
    return np.asarray(after - is_before, dtype=np.int64)
