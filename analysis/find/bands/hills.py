"""Hills that stand in an order's level itself: what an eye would call a peak, and how high it is.

A hill is as high as the smaller of its two drops: the way down from its top before the level climbs
above it again, or ends (its topographic prominence). A level that only climbs to the end of what
was driven has no second drop, so it is no hill; one that surely turns before the end is a hill cut
off, which takes a witness. No trend is drawn under it that could run away.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.interval import SURE
from analysis.find.bands.own_level import usual_step_db
from analysis.find.bands.resonance_model import CurveData

STEP = 0.01  # a definition: of ln f; that of the rpm bins
_LONGEST_GAP = 0.06  # of ln f: judgement: what happens in a wider hole nobody has seen
_LEAST_NET = 0.5  # of the background: judgement: a softer order's level is not told apart from it
_SILENCE_MS = 1e-30  # a definition: nothing, with a logarithm
_DB_OF_PART = 10.0 / np.log(10.0)  # a definition: decibels for a small part of a mean square
_SMOOTHING_BINS = 1.5  # judgement: less leaves chance, more flattens a band 3 % wide
_SCATTER_BINS = 8.0  # judgement: over which the scatter about the smooth curve is taken
HALF_POWER_DB = 10.0 * np.log10(2.0)  # by definition
# judgement: where a hill's body ends, below the top: farther down other hills have their say
_FOOT = 0.9  # of the prominence
_FOOT_DB = 10.0
# of a white scatter's variance a Gaussian of s bins leaves 1 / (2 sqrt(pi) s)
_LEFT_SHARE = 1.0 / (2.0 * np.sqrt(np.pi) * _SMOOTHING_BINS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hill:
    """One hill of one order's level.

    Attributes
    ----------
    top_hz, level_db : its top
    foot_hz : where its body ends, below and above
    half_power_hz : where it has fallen by half its power, or nearly to its foot
    prominence_db : the smaller of its two drops
    sigma_db : standard errors of the top, and of the valley that this drop goes to
    """

    top_hz: float
    level_db: float
    foot_hz: tuple[float, float]
    half_power_hz: tuple[float, float]
    prominence_db: float
    sigma_db: tuple[float, float]

    @property
    def width(self) -> float:
        """Between the half-power points, as a part of the top's frequency."""
        return (self.half_power_hz[1] - self.half_power_hz[0]) / self.top_hz

    @property
    def surely_db(self) -> float:
        """Lower end of the 95 % interval of its height."""
        return surely_db(self.prominence_db, *self.sigma_db)


def surely_db(drop_db: float, top_sigma_db: float, valley_sigma_db: float) -> float:
    """Lower end of the 95 % interval of how far a level falls from a top to a valley.

    Mean squares have the errors of a normal distribution, decibels near the noise have not: a
    valley that noise has filled is no hill's end. So it is the ratio of two means that is asked for
    (Fieller, J. R. Stat. Soc. B 16, 1954, 175).
    """
    top, valley = (SURE * sigma_db / _DB_OF_PART for sigma_db in (top_sigma_db, valley_sigma_db))
    if top >= 1.0:
        return -np.inf
    either = np.sqrt(top**2 + valley**2 - top**2 * valley**2)
    return float(drop_db + 10.0 * np.log10((1.0 - top**2) / (1.0 + either)))


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenLevel:
    """An order's level as it is seen: lightly smoothed, background removed.

    ``log_f``, ``level_db`` and ``sigma_db``, its standard error: [shape=(n,)], evenly spaced in
    ln f; NaN in ``level_db`` where nothing was driven.
    """

    log_f: FloatArray
    level_db: FloatArray
    sigma_db: FloatArray


def seen_level(data: CurveData) -> SeenLevel:
    """Smooth an order's curve, in mean square: a bin that noise has emptied is no valley."""
    log_f = np.log(data.frequency_hz)
    grid = np.arange(log_f[0], log_f[-1] + 0.5 * STEP, STEP)

    def even(values: FloatArray) -> FloatArray:
        return np.interp(grid, log_f, values)

    def smooth(values: FloatArray) -> FloatArray:
        return np.asarray(gaussian_filter1d(even(values), _SMOOTHING_BINS, mode="nearest"))

    total, background = smooth(data.total_ms), smooth(data.background_ms)
    net = np.maximum(total - background, np.maximum(_LEAST_NET * background, _SILENCE_MS))
    # of the total, in parts of it: what is left of that after the noise is taken off says nothing
    # of how sure it is
    strayed_db = _DB_OF_PART * (even(data.total_ms) / total - 1.0)
    scatter = gaussian_filter1d(strayed_db**2, _SCATTER_BINS, mode="nearest")
    # what smoothing has taken out of the difference is missing in it
    scatter /= 1.0 - _LEFT_SHARE
    # bins that happen to lie on a curve are no surer than the noise in them allows
    noise = smooth(data.sigma_db**2)
    sigma_db = np.sqrt(_LEFT_SHARE * np.maximum(scatter, noise)) * total / net
    level_db = 10.0 * np.log10(net)
    for start in np.flatnonzero(np.diff(log_f) > _LONGEST_GAP):
        level_db[(grid > log_f[start]) & (grid < log_f[start + 1])] = np.nan
    return SeenLevel(log_f=grid, level_db=level_db, sigma_db=sigma_db)


def hills(seen: SeenLevel, least_db: float) -> tuple[Hill, ...]:
    """All hills that are at least ``least_db`` high, the lowest frequency first."""
    return tuple(hill for part in _parts(seen) for hill in _in_part(seen, part, least_db))


def cut_hills(seen: SeenLevel, least_db: float) -> tuple[Hill, ...]:
    """All hills whose outer flank lies beyond the end of what was driven, at least in part.

    The other flank falls by ``least_db`` or more, and stands for both. Towards the end the level
    has turned down by more than chance and the engine's own level would make it.
    """
    return tuple(
        hill
        for part in _parts(seen)
        for top in tops(seen.level_db[part])
        for outer, inner in ((part[:top], part[top:]), (part[top + 1 :], part[top::-1]))
        for hill in _mirrored(seen, outer, inner, least_db)
    )


def _mirrored(seen: SeenLevel, outer: IntArray, inner: IntArray, least_db: float) -> Iterator[Hill]:
    """Give the hill that the flank ``inner``, from top to valley, makes with its mirror image."""
    if seen.level_db[outer].max() > seen.level_db[inner[0]]:
        return  # not at the end: a higher hill comes first
    if not _surely_turns(seen, inner[0], outer):
        return
    both = np.concatenate([inner[:0:-1], inner])
    top = seen.log_f[inner[0]]
    log_f = top + STEP * np.arange(1 - inner.size, inner.size)
    whole = SeenLevel(log_f=log_f, level_db=seen.level_db[both], sigma_db=seen.sigma_db[both])
    reach = np.abs(seen.log_f[outer] - top).max()
    for hill in hills(whole, least_db):
        if abs(np.log(hill.top_hz) - top) < 0.5 * STEP and np.log(hill.foot_hz[1]) - top > reach:
            yield hill


def _surely_turns(seen: SeenLevel, top: int, outer: IntArray) -> bool:
    """Whether the level is lower beyond its top, to 95 %, than it would be by itself."""
    lowest = outer[seen.level_db[outer].argmin()]
    turn_db = seen.level_db[top] - seen.level_db[lowest]
    chance_db = np.hypot(seen.sigma_db[top], seen.sigma_db[lowest])
    own_db = usual_step_db(float(seen.log_f[lowest] - seen.log_f[top]))
    return bool(turn_db > SURE * np.hypot(chance_db, own_db))


def _parts(seen: SeenLevel) -> list[IntArray]:
    """Stretches without a hole."""
    known = np.flatnonzero(np.isfinite(seen.level_db))
    parts = np.split(known, np.flatnonzero(np.diff(known) > 1) + 1)
    return [part for part in parts if part.size > 2]


def _in_part(seen: SeenLevel, part: IntArray, least_db: float) -> list[Hill]:
    level_db, sigma_db, start = seen.level_db[part], seen.sigma_db[part], seen.log_f[part[0]]
    found = []
    for top in tops(level_db):
        first, last = valleys(level_db, top)
        # the drop that counts is the one to the higher of the two valleys
        valley = first if level_db[first] > level_db[last] else last
        drop_db = level_db[top] - level_db[valley]
        if drop_db < least_db:
            continue
        below_db, above_db = level_db[first : top + 1][::-1], level_db[top : last + 1]
        top_hz = float(np.exp(start + STEP * top))
        foot_hz, half_power_hz = (
            (
                top_hz * float(np.exp(-STEP * _fallen(below_db, by_db))),
                top_hz * float(np.exp(STEP * _fallen(above_db, by_db))),
            )
            for by_db in (min(_FOOT_DB, _FOOT * drop_db), min(HALF_POWER_DB, _FOOT * drop_db))
        )
        found.append(
            Hill(
                top_hz=top_hz,
                level_db=float(level_db[top]),
                foot_hz=foot_hz,
                half_power_hz=half_power_hz,
                prominence_db=float(drop_db),
                sigma_db=(float(sigma_db[top]), float(sigma_db[valley])),
            )
        )
    return found


def tops(level_db: FloatArray) -> IntArray:
    """Where a level without holes [shape=(n,)] is higher than on either side; not at its ends.

    The middle of a flat top. This and :func:`valleys` do what scipy.signal does, which takes 43 MB
    and half a second to load; a test holds them side by side.
    """
    steps = np.flatnonzero(np.diff(level_db))
    first, last = np.append(0, steps + 1), np.append(steps, level_db.size - 1)
    rises = np.diff(level_db[first]) > 0.0
    is_top = np.append(False, rises) & np.append(~rises, False)
    return np.asarray((first + last)[is_top] // 2)


def valleys(level_db: FloatArray, top: int) -> tuple[int, int]:
    """Lowest places to either side of a top, before the level climbs above it, or ends."""
    higher = np.flatnonzero(level_db > level_db[top])
    after = np.searchsorted(higher, top)
    begin = higher[after - 1] + 1 if after > 0 else 0
    end = higher[after] if after < higher.size else level_db.size
    below, above = level_db[begin : top + 1], level_db[top:end]
    return top - int(below[::-1].argmin()), top + int(above.argmin())


def _fallen(flank_db: FloatArray, by_db: float) -> float:
    """Count steps from the first of ``flank_db`` to where it has fallen by so much."""
    after = int(np.flatnonzero(flank_db <= flank_db[0] - by_db)[0])
    before_db, after_db = flank_db[after - 1], flank_db[after]
    return after - 1 + float((before_db - flank_db[0] + by_db) / (before_db - after_db))
