"""Which multiples of a path's speed stand out as lines, over the whole drive.

One frame of a faint line proves little, four seconds do. Each position is judged in every such
stretch, and the stretches are averaged: a path that jumps between readings thus shows as one that
has no line anywhere all along.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_path import HeardPath
from analysis.find.speed.swept_lines import CHUNK_S, levels_along

# judgement: all of these. Lines of recorded engines stand 5 to 25 dB above their sides, positions
# between them -2 to 1 dB.
_BESIDE = 0.1  # orders, from a line to its sides
_STRETCH_FRAMES = 40
_LEAST_FRAMES = 10  # of a stretch in which a position can be heard
_EVEN_DB = 2.0  # as likely a line as not
_TELLS_DB = 2.0  # above that, before it counts as something
_PER_DB = 0.8  # of the logarithm of the odds
_LEAST_ODDS, _MOST_ODDS = -3.0, 4.0  # logarithms: no single line settles anything
_LOWEST_HZ, _HIGHEST_HZ = 12.0, 650.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineProfile:
    """What stands at multiples of the speed of a path.

    Attributes
    ----------
    orders : ndarray [shape=(n_positions,)]
        Of the path's own speed; only those that were heard.
    height_db : ndarray [shape=(n_positions,)]
        How far each stands above its sides.
    log_odds : ndarray [shape=(n_positions,)]
        Natural logarithm of the odds that a line stands there.
    """

    orders: FloatArray
    height_db: FloatArray
    log_odds: FloatArray

    def weakened(self, share: float) -> "LineProfile":
        """Give the profile as evidence of a part of the drive only."""
        return LineProfile(
            orders=self.orders, height_db=self.height_db, log_odds=share * self.log_odds
        )


def line_profile(copy: WorkingCopy, path: HeardPath, orders: FloatArray) -> LineProfile:
    """Judge each of ``orders`` along the sure part of a path."""
    heights, odds, counts = [], [], []
    first_s = path.time_s[0] if path.time_s.size else 0.0
    chunk = ((path.time_s - first_s) // CHUNK_S).astype(np.int64)
    for number in np.unique(chunk[path.is_sure]):
        frames = np.flatnonzero((chunk == number) & path.is_sure)
        for stretch in np.array_split(frames, max(1, round(frames.size / _STRETCH_FRAMES))):
            piece = _heights(copy, path, stretch, orders)
            heard = np.isfinite(piece)
            count = heard.sum(axis=0)
            mean_db = np.where(heard, piece, 0.0).sum(axis=0) / np.maximum(count, 1)
            heights.append(mean_db)
            odds.append(np.clip(_PER_DB * (mean_db - _EVEN_DB), _LEAST_ODDS, _MOST_ODDS))
            # a stretch in which nothing stands out tells nothing
            told_db = np.maximum(mean_db - _EVEN_DB - _TELLS_DB, 0.0).sum()
            counts.append(np.where(count >= _LEAST_FRAMES, count, 0) * told_db)
    if not counts:
        return LineProfile(orders=np.empty(0), height_db=np.empty(0), log_odds=np.empty(0))
    weight = np.array(counts, dtype=np.float64)
    # what is seldom low enough to be heard tells of a small part of the drive only
    often = weight.sum(axis=0) > 0.25 * weight.sum(axis=0).max()
    total = np.maximum(weight.sum(axis=0), 1e-9)
    return LineProfile(
        orders=orders[often],
        height_db=((weight * heights).sum(axis=0) / total)[often],
        log_odds=((weight * odds).sum(axis=0) / total)[often],
    )


def _heights(
    copy: WorkingCopy,
    path: HeardPath,
    frames: np.ndarray[tuple[int], np.dtype[np.int64]],
    orders: FloatArray,
) -> FloatArray:
    rpm = path.rpm[frames]
    level_db = levels_along(
        copy,
        path.time_s[frames],
        rpm,
        path.rate_per_s[frames],
        np.concatenate([orders, orders - _BESIDE, orders + _BESIDE]),
    )
    at, below, above = np.split(level_db.astype(np.float64), 3, axis=1)
    hz = orders * rpm[:, np.newaxis] / 60.0
    inside = (hz > _LOWEST_HZ) & (hz < _HIGHEST_HZ)
    return np.where(inside, at - 0.5 * (below + above), np.nan)
