"""Which multiples of a path's speed stand out as lines, over the whole drive.

One frame of a faint line proves little, four seconds do. Each position is judged in every such
stretch, and the stretches are averaged: a path that jumps between readings thus shows as one that
has no line anywhere all along.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.speed_path import HeardPath
from analysis.find.speed.swept_lines import CHUNK_S, levels_along

# judgement: all of these. Over four seconds lines of recorded engines stand 5 to 25 dB above their
# sides, positions between them -2 to 1 dB; over a drive the latter keep within -0.7 and 0.9 dB.
_BESIDE = 0.1  # orders, from a line to its sides
_STRETCH_FRAMES = 40
_LEAST_FRAMES = 10  # of a stretch in which a position can be heard
_EVEN_DB, _PER_DB = 1.2, 1.2  # as likely a line as not; of the logarithm of the odds
_TELLS_DB = 4.0  # above its sides, before it counts as something
# judgement: more in one stretch counts as this, lest a loud idle outvotes the rest
_TELLS_MOST_DB = 20.0
# judgement: all of these
_LEAST_ODDS, _MOST_ODDS = -3.0, 4.0  # logarithms: no single line settles anything
_SURELY_DB = 3.2
_LOWEST_HZ, _HIGHEST_HZ = 12.0, 650.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineProfile:
    """What stands at multiples of the speed of a path.

    Attributes
    ----------
    orders : ndarray [shape=(n_positions,)]
        Of the path's own speed; only those that were heard, up to the highest that stands out:
        beyond it the engine is too soft to tell anything.
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
        return replace(self, log_odds=share * self.log_odds)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardLines:
    """What stands at multiples of the speed of a path, every four seconds.

    Attributes
    ----------
    orders : ndarray [shape=(n_positions,)]
        Of the path's own speed.
    frames : tuple of ndarray of int
        Which frames of the path each stretch holds.
    height_db : ndarray [shape=(n_stretches, n_positions)]
        How far each position stands above its sides; 0 where it was not heard.
    weight : ndarray [shape=(n_stretches, n_positions)]
        How much each stretch tells of it; 0 where it was not heard.
    """

    orders: FloatArray
    frames: tuple[IntArray, ...]
    height_db: FloatArray
    weight: FloatArray

    @property
    def log_odds(self) -> FloatArray:
        """Natural logarithm of the odds that a line stands there, same shape."""
        return np.clip(_PER_DB * (self.height_db - _EVEN_DB), _LEAST_ODDS, _MOST_ODDS)

    def profile(self, chosen: BoolArray) -> LineProfile:
        """Put some stretches together; ``chosen`` [shape=(n_stretches,)]."""
        weight = self.weight[chosen]
        total = weight.sum(axis=0)
        # what is seldom low enough to be heard tells of a small part of the drive only
        often = (total > 0.0) & (total > 0.25 * total.max(initial=0.0))
        share = weight[:, often] / total[often]
        height_db = (share * self.height_db[chosen][:, often]).sum(axis=0)
        log_odds = (share * self.log_odds[chosen][:, often]).sum(axis=0)
        orders = self.orders[often]
        heard = orders <= orders[height_db > _SURELY_DB].max(initial=0.0)
        return LineProfile(
            orders=orders[heard], height_db=height_db[heard], log_odds=log_odds[heard]
        )


def heard_lines(copy: WorkingCopy, path: HeardPath, orders: FloatArray) -> HeardLines:
    """Judge each of ``orders`` along the sure part of a path."""
    frames, heights, weights = [], [], []
    first_s = path.time_s[0] if path.time_s.size else 0.0
    chunk = ((path.time_s - first_s) // CHUNK_S).astype(np.int64)
    for number in np.unique(chunk[path.is_sure]):
        sure = np.flatnonzero((chunk == number) & path.is_sure)
        for stretch in np.array_split(sure, max(1, round(sure.size / _STRETCH_FRAMES))):
            piece = _heights(copy, path, stretch, orders)
            heard = np.isfinite(piece)
            count = heard.sum(axis=0)
            mean_db = np.where(heard, piece, 0.0).sum(axis=0) / np.maximum(count, 1)
            # a stretch in which nothing stands out tells nothing
            told_db = min(np.maximum(mean_db - _TELLS_DB, 0.0).sum(), _TELLS_MOST_DB)
            frames.append(stretch)
            heights.append(mean_db)
            weights.append(np.where(count >= _LEAST_FRAMES, count, 0) * told_db)
    shape = (len(frames), orders.size)
    return HeardLines(
        orders=orders,
        frames=tuple(frames),
        height_db=np.reshape(heights, shape),
        weight=np.reshape(weights, shape),
    )


def _heights(
    copy: WorkingCopy,
    path: HeardPath,
    frames: IntArray,
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
    # above the mean of both sides, so that a spectrum that slopes makes no line
    return np.where(inside, at - 0.5 * (below + above), np.nan)
