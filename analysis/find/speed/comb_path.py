"""Engine speed by a comb of orders: at first every half order together.

A four-stroke engine repeats itself every second turn, so whatever makes its cylinders unlike gives
lines at half orders and nowhere else. All together they tell one speed: at half of it every second
line is missing, at twice of it lines stand in the gaps. Once it is known which lines this engine
has, the comb of these and of what must be missing is followed anew.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.line_profile import LineProfile
from analysis.find.speed.speed_path import (
    HeardPath,
    are_joined,
    best_path,
    between_speeds,
    stands_out,
)
from analysis.find.speed.swept_lines import CHUNK_S, Comb, swept_scores

# judgement: engines show half orders to the eighth, by their cylinders or by their firing to the
# twelfth; a quarter order beside, none shows any.
_HALVES = np.arange(0.5, 8.01, 0.5)
_GAPS = np.arange(0.25, 8.3, 0.5)
_HIGHEST_LEARNT = 12.0
_STANDS, _IS_MISSING = 0.5, -1.0  # logarithms of odds
# judgement: frames on recorded engines that were right stood out by 4.1 or more in 19 of 20, those
# lost in a shift by 0.5 to 3.
_SURE, _SURE_OF_LEARNT = 3.5, 2.5
_SURE_OVER_FRAMES = 5

EVERY_HALF_ORDER = Comb(
    orders=np.concatenate([_HALVES, _GAPS]),
    weights=np.concatenate(
        [np.full(_HALVES.size, 1.0 / _HALVES.size), np.full(_GAPS.size, -1.0 / _GAPS.size)]
    ),
)


def comb_path(copy: WorkingCopy, start_s: float, end_s: float, comb: Comb) -> HeardPath | None:
    """Engine speed of one stretch of the sound; None where there is too little of it."""
    parts = [swept_scores(copy, float(start), comb) for start in np.arange(start_s, end_s, CHUNK_S)]
    time_s = np.concatenate([part.time_s for part in parts])
    if time_s.size <= _SURE_OVER_FRAMES:
        return None
    score = np.concatenate([part.score_db for part in parts])
    rate = np.concatenate([part.rate_per_s for part in parts])
    joined = are_joined(time_s)
    path = best_path(score, joined)
    return HeardPath(
        time_s=time_s,
        rpm=between_speeds(score, path, joined),
        rate_per_s=rate[np.arange(path.size), path].astype(np.float64),
        is_sure=stands_out(score, path, _SURE_OVER_FRAMES)
        > (_SURE if comb is EVERY_HALF_ORDER else _SURE_OF_LEARNT),
    )


def learnt_comb(profile: LineProfile, ratio: float) -> Comb:
    """Lines that this engine has, at ``ratio`` times the speed of the profile's path.

    Each weighs as far as it stands out; half orders that are missing weigh against, as the gaps do.
    """
    orders = profile.orders / ratio
    is_half = np.isclose(orders, 0.5 * np.rint(orders / 0.5), atol=0.01)
    stands = is_half & (profile.log_odds > _STANDS) & (orders < _HIGHEST_LEARNT)
    missing = is_half & (profile.log_odds < _IS_MISSING) & (orders < _HALVES[-1])
    against = np.concatenate([orders[missing], _GAPS])
    weights = profile.height_db[stands] / max(1e-9, float(profile.height_db[stands].sum()))
    return Comb(
        orders=np.concatenate([orders[stands], against]),
        weights=np.concatenate([weights, np.full(against.size, -1.0 / against.size)]),
    )
