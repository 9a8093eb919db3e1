"""Levels that climb on to an end of what was driven, so that nobody saw their top.

A level that climbs to the end is no hill (:mod:`analysis.find.bands.hills`), but there may be one
beyond. Every engine is louder the faster it turns, so it must climb more steeply than that.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence

import numpy as np

from analysis.find.bands.hills import SeenLevel, surely_db
from analysis.findings import Climb, DroneBand

# judgement: as high as a hill that nobody would miss, within so much of ln f. An engine that is
# 24 dB louder at the fast end of its range than at the slow one climbs by 4 dB over this.
_CLIMB_DB, _SURELY_DB = 9.0, 6.0
_FLANK = 0.25
_AT_END = 0.03  # of ln f: judgement: a turn so near the end may be that of the foot


def climbs(order: float, seen: SeenLevel, bands: Sequence[DroneBand]) -> tuple[Climb, ...]:
    """Climbs of one order to the slow and to the fast end, but those that its bands tell of."""
    return tuple(
        climb
        for climb in (*_to_end(order, seen, is_fast=False), *_to_end(order, seen, is_fast=True))
        if not any(band.low_rpm <= climb.rpm <= band.high_rpm for band in bands)
    )


def _to_end(order: float, seen: SeenLevel, *, is_fast: bool) -> Iterator[Climb]:
    inwards = np.arange(seen.log_f.size)
    if is_fast:
        inwards = inwards[::-1]
    way = np.abs(seen.log_f[inwards] - seen.log_f[inwards[0]])
    inwards, way = inwards[way < _FLANK], way[way < _FLANK]
    level_db, sigma_db = seen.level_db[inwards], seen.sigma_db[inwards]
    if not np.isfinite(level_db).all():
        return
    top = int(level_db.argmax())
    valley = top + int(level_db[top:].argmin())
    climb_db = float(level_db[top] - level_db[valley])
    sure_db = surely_db(climb_db, float(sigma_db[top]), float(sigma_db[valley]))
    if way[top] < _AT_END and climb_db >= _CLIMB_DB and sure_db >= _SURELY_DB:
        yield Climb(
            engine_order=order,
            rpm=60.0 / order * float(np.exp(seen.log_f[inwards[top]])),
            from_rpm=60.0 / order * float(np.exp(seen.log_f[inwards[valley]])),
            climb_db=climb_db,
            level_db=float(level_db[top]),
        )
