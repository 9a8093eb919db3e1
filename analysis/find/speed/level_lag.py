"""How late rpm was logged against the level of an old session without sound.

Of all shifts between the two, the one is taken that makes climbs and falls of engine speed tell
the same story.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.rpm_bins import bin_of
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.speed.telemetry_delay import best_delay
from analysis.findings import TelemetryDelay

# judgement: a meter set to Slow lags by about its second (IEC 61672-1).
LEVEL_STEP_S = 0.1

# judgement: finer steps cost time. 20 % more moves a peak by 0.04 % and a rise by 0.04 dB.
_LARGEST_LAG_S = 3.0
_LAG_STEP_S = 0.05
_BLOCK_S = 5.0


def level_lag(time_s: FloatArray, level_db: FloatArray, track: SpeedTrack) -> TelemetryDelay | None:
    """Lag of the rpm behind the level, None when the drive cannot show it.

    Each candidate lag spreads the levels of each rpm bin by so much; the least spread wins.
    """
    lags = np.arange(-_LARGEST_LAG_S, _LARGEST_LAG_S + 1e-9, _LAG_STEP_S)
    whole = _BLOCK_S / LEVEL_STEP_S
    blocks = (np.arange(time_s.size) // whole).astype(np.int64)
    count = int(blocks.max()) + 1
    spread = np.stack(
        [_block_spread(track.at(time_s + lag), level_db, blocks, count) for lag in lags], axis=1
    )
    total = spread.sum(axis=0)
    best = int(total.argmin())
    # without a clear valley inside the search the level does not depend on rpm enough to tell
    if best in (0, lags.size - 1) or total[best] > 0.8 * min(total[0], total[-1]):
        return None
    return best_delay(lags, -spread, _LAG_STEP_S)


def _block_spread(
    rpm: FloatArray, level_db: FloatArray, blocks: IntArray, count: int
) -> FloatArray:
    """Squared distance of each level from the mean of its rpm bin, added up by time block."""
    known = np.isfinite(rpm) & np.isfinite(level_db)
    _, where = np.unique(bin_of(rpm[known]), return_inverse=True)
    size = np.bincount(where)
    mean = np.bincount(where, weights=level_db[known]) / size
    # one level alone in its bin shows no spread: n / (n - 1) makes up for the fitted mean
    scale = np.where(size > 1, size / np.maximum(size - 1, 1), 0.0)
    squared = scale[where] * (level_db[known] - mean[where]) ** 2
    usable = max(1, int((size[where] > 1).sum()))
    return np.bincount(blocks[known], weights=squared, minlength=count) / usable
