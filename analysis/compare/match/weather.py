"""What another day's gas does to a level over a fixed stretch of engine speeds.

Hotter gas carries sound faster, so every resonance of the exhaust lies a few per cent higher, and
over the baseline's band an untouched car seems to have changed. By how much the second day's level
is stretched is not measured; but where the day alone explains what changed, the shape tells: then
stretches are weighed by how well the second drive, stretched back, lies on the first, bin by bin.
Where the work changed the shape, any stretch is as likely as weather makes it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.basics.levels import level_db
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.compare.match.level_change import LevelChange
from analysis.compare.match.side_by_side import SideBySide, side_by_side
from analysis.findings import DroneBand, OrderCurve

# judgement: 60 K colder or hotter than 550 K is a stretch by 5.6 %, which is taken for two standard
# deviations; bins of 1 % are as fine as a stretch can be told. One bin beyond what 60 K make is
# tried too: what fits best there is no weather.
_STRETCH_BINS = 3.0
_FARTHEST_BINS = 7
# judgement: how far two drives of one level lie apart in a bin; how far at most, root mean square,
# for the day alone to explain it; and how many neighbouring bins tell the same. They weigh a
# stretch; tests/benchmarks/compare_pairs measures what comes of it.
_BIN_DB, _EXPLAINED_DB = 1.0, 1.5
_BINS_PER_LOOK = 3.0
_AROUND = (0.7, 1.4)  # of the drone's rpm, where the shape is looked at
_LARGEST_GAIN_DB = 3.0  # judgement: what a day may make louder as a whole
_ENOUGH_BINS = 0.7  # judgement: share of a band that must be held to tell its level


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What to add to a band's change for the day's gas, and how far it may stray either way.

    ``down_db`` and ``up_db`` are standard uncertainties of that.
    """

    add_db: float
    down_db: float
    up_db: float

    def on(self, change: LevelChange) -> LevelChange:
        """Give a change with the day in it."""
        level_db, ends = change.change_db, change.ci95_db
        low_arm_db = math.hypot(level_db - ends.low, SURE * self.down_db)
        high_arm_db = math.hypot(ends.high - level_db, SURE * self.up_db)
        level_db += self.add_db
        return replace(
            change,
            change_db=level_db,
            ci95_db=Interval(low=level_db - low_arm_db, high=level_db + high_arm_db),
            after_db=change.after_db + self.add_db,
        )


NO_WEATHER = Weather(add_db=0.0, down_db=0.0, up_db=0.0)


def weather_between(
    before: OrderCurve | None, after: OrderCurve | None, band: DroneBand
) -> Weather:
    """Weigh how far the second day's level is stretched, by what it does to the band."""
    if before is None or after is None:
        return NO_WEATHER
    laid = side_by_side(before, after)
    first_db, second_db = (level_db(ms) for ms in (laid.before.curve_ms, laid.after.curve_ms))
    shifts = np.arange(-_FARTHEST_BINS, _FARTHEST_BINS + 1)
    moved_db = np.stack([_moved(second_db, int(shift)) for shift in shifts])
    # gas stretches resonances, but not how the source grows louder with engine speed
    stretched_db = moved_db - _rise_db_per_bin(after) * shifts[:, np.newaxis]
    by_shape = _by_shape(first_db, stretched_db, laid, band)
    if by_shape is not None:  # after work, the trend that was fitted holds of the work too
        moved_db = stretched_db
    add_db = np.array([_band_db(each, laid, band) for each in moved_db])
    # against no stretch at all, which stands in the middle
    add_db = add_db - add_db[_FARTHEST_BINS]
    prior = np.exp(-0.5 * (shifts / _STRETCH_BINS) ** 2)
    weight = np.where(np.isfinite(add_db), prior if by_shape is None else prior * by_shape, 0.0)
    if not np.isfinite(add_db[_FARTHEST_BINS]) or not weight.any():
        return NO_WEATHER
    share, add_db = weight / weight.sum(), np.nan_to_num(add_db)
    # without a shape to tell by, the day is as likely to have added as to have taken away
    mean_db = 0.0 if by_shape is None else float(share @ add_db)
    off_db = add_db - mean_db
    down_db, up_db = (_one_way_db(sign * off_db, share) for sign in (-1.0, 1.0))
    return Weather(add_db=mean_db, down_db=down_db, up_db=up_db)


def _one_way_db(off_db: FloatArray, share: FloatArray) -> float:
    """Root mean square of what lies above zero, over its own share."""
    above = share * (off_db > 0.0)
    return float(np.sqrt(above @ off_db**2 / above.sum())) if above.any() else 0.0


def _by_shape(
    first_db: FloatArray, moved_db: FloatArray, laid: SideBySide, band: DroneBand
) -> FloatArray | None:
    """How likely the shape makes each stretch [shape=(n_shifts,)]; None where none explains it."""
    rpm = bin_centre_rpm(laid.bins)
    near = (rpm >= _AROUND[0] * band.peak_rpm) & (rpm <= _AROUND[1] * band.peak_rpm)
    # the same bins for every stretch, so that none is favoured by having fewer
    near &= np.isfinite(first_db) & np.isfinite(moved_db).all(axis=0)
    if not near.any():
        return None
    off_db = moved_db[:, near] - first_db[near]
    # taken off before shapes are weighed: a louder day must not pass for a stretched one
    gain_db = np.clip(np.median(off_db, axis=1), -_LARGEST_GAIN_DB, _LARGEST_GAIN_DB)
    away_db = off_db - gain_db[:, np.newaxis]
    misfit = np.sum((away_db / _BIN_DB) ** 2, axis=1) / _BINS_PER_LOOK
    is_at_end = misfit.argmin() in (0, misfit.size - 1)
    if is_at_end or np.sqrt(np.mean(away_db**2, axis=1)).min() > _EXPLAINED_DB:
        return None
    return np.asarray(np.exp(-0.5 * (misfit - misfit.min())))


def _rise_db_per_bin(curve: OrderCurve) -> float:
    """How steeply the order's level grows with engine speed, resonances apart; 0 if not known."""
    known = np.isfinite(curve.trend_db)
    if np.unique(curve.bin_index[known]).size < 2:
        return 0.0
    return float(np.polyfit(curve.bin_index[known], curve.trend_db[known], 1)[0])


def _moved(level_db: FloatArray, shift: int) -> FloatArray:
    """Give each bin the level of the bin that many further up; NaN past the end."""
    moved = np.full(level_db.shape, np.nan)
    if shift >= 0:
        moved[: level_db.size - shift] = level_db[shift:]
    else:
        moved[-shift:] = level_db[:shift]
    return moved


def _band_db(level_db: FloatArray, laid: SideBySide, band: DroneBand) -> float:
    rpm = bin_centre_rpm(laid.bins)
    inside = level_db[(rpm >= band.low_rpm) & (rpm <= band.high_rpm)]
    held = np.isfinite(inside)
    if not inside.size or held.mean() < _ENOUGH_BINS:
        return float("nan")
    return float(10.0 * np.log10(np.mean(10.0 ** (0.1 * inside[held]))))
