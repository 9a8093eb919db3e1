"""How far one order's level changed over one band, and how sure that is.

What is compared is the order's mean square without background, averaged over the rpm bins that both
drives hold, each bin counting once: a drive that lingered at one speed is not biased by it. Within
a bin only what both drives hold alike counts, see :mod:`analysis.compare.match.like_with_like`: as
strictly as leaves enough to tell, the rest being put into the interval.

Why this interval, and not a bootstrap over passes. Home builders drive one to three passes. With
one pass a bootstrap has no spread at all, with two it has three distinct resamples; its interval
is then far too short. So the spread is put together from its parts:

* *Within a pass* (noise beating with the order, and the background under it): known even from one
  pass, see :mod:`analysis.compare.match.noise`. It adds to the mean square, so for an order close
  to its background the interval grows downwards without limit.
* *From pass to pass* (load, throttle, temperature): multiplies the mean square, alike for every
  bin of a pass. Its variance is the mean of what the passes show and of ``PASS_SPREAD_DB``,
  weighted by degrees of freedom: the moderated t of Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004)
  no. 3. One pass leans on the assumption, many passes on the data.
* *Between drives*: what no number of passes on one day can show; ``DAY_SPREAD_DB``. Of an overall
  level, in which wind and road are too, ``OVERALL_DAY_SPREAD_DB``. A gain that was taken off comes
  on top, see :mod:`analysis.compare.match.same_setup`, and what hotter or colder gas does to the
  band, see :mod:`analysis.compare.match.weather`.
* *Not driven alike*: what gear, load or direction that had to be given up may make.

Each part gives an arm up and an arm down; arms are added as squares, which keeps them lopsided
where the parts are: Zou and Donner, Statistics in Medicine 27 (2008) 1693 (from memory).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtri, stdtrit

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.compare.match.like_with_like import Alike, alike, known_in_both, strictest_first
from analysis.compare.match.noise import variance_of_passes
from analysis.find.curves.pass_table import PassTable, table_of_passes
from analysis.findings import PassCurve
from analysis.verdicts import Conditions

# Standard deviation between passes of one drive. judgement: as steady as a driver holds the
# throttle; 20 % more widens an interval by 0.25 dB.
PASS_SPREAD_DB = 0.3
# Degrees of freedom that it is worth: 95 of 100 drivers lie between 0.2 and 0.6 dB. judgement: 20 %
# more moves an interval by 0.03 dB.
PASS_SPREAD_TRUST = 8.0
# Standard deviation between two days with nothing changed. judgement: 20 % more widens an interval
# by 0.4 dB; an overall level strays as much by itself, wind and road on top.
DAY_SPREAD_DB = 1.0
OVERALL_DAY_SPREAD_DB = 1.0
# judgement: share of the wanted rpm bins that both drives must hold; share by which the background
# under an order may be misjudged; what stands for "no end known", more than any exhaust part takes
# away. 20 % more of each moved nothing.
ENOUGH_SHARED = 0.7
BACKGROUND_ERROR = 0.1
UNKNOWN_ARM_DB = 60.0
_COVER = 0.975  # quantile at the end of a 95 % interval, by definition
_SURE = float(ndtri(_COVER))
_DB = 10.0 / np.log(10.0)  # decibels of a natural logarithm of power, by definition


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelChange:
    """Change of an order's level over a stretch of rpm, after against before.

    ``shared`` is the share of the stretch's rpm bins that both drives hold; with none, the change
    is NaN. ``*_buried``: the order does not stand out of its background in that drive, and the
    level used for it is only the least that would have been seen. ``smallest_change_db``: how far
    the level may seem to change with nothing changed, in 95 of 100 such pairs of drives; NaN where
    any change would be lost in the noise.
    """

    change_db: float
    ci95_db: Interval
    shared: float
    before_buried: bool
    after_buried: bool
    passes_before: int
    passes_after: int
    smallest_change_db: float
    kept_alike: Conditions = frozenset()
    given_up: Conditions = frozenset()  # known of both drives, but not alike in them
    unlike_arm_db: float = 0.0  # what of the interval is for that, and for loads not quite alike
    before_db: float = float("nan")  # 10 lg of the mean squares
    after_db: float = float("nan")
    highest_change_db: float = float("nan")  # of the drone's highest level
    elsewhere_change_db: float = float("nan")  # of the highest level away from its order's drones

    @property
    def tells(self) -> bool:
        """Whether both drives hold enough of it, and the first shows it at all."""
        return self.shared >= ENOUGH_SHARED and not self.before_buried


def change_in_bins(
    before: PassCurve | None,
    after: PassCurve | None,
    bins: IntArray,
    *,
    between_drives_db: float = DAY_SPREAD_DB,
) -> LevelChange:
    """Level change with its 95 % interval over rpm bins (rising indices, [shape=(n_bins,)]).

    The drives are kept as alike as can be. Swapping them flips the sign; a gain common to both
    changes nothing. ``between_drives_db`` is the standard deviation of what differs between the
    drives as a whole.
    """
    if before is None or after is None or bins.size == 0:
        return _NO_CHANGE
    allowed = [*strictest_first(known_in_both(before, after))]
    filled_up = [allowed[:count] for count in range(1, len(allowed) + 1)]
    # then less is kept alike, which widens the interval, rather than nothing said
    looser = [allowed[first:] for first in range(1, len(allowed))]  # when the strictest is buried
    made = (
        _change_alike(before, after, bins, alike(before, after, bins, each), between_drives_db)
        for each in (*filled_up, *looser)
    )
    seen: list[LevelChange] = []
    for change in made:
        if change.tells:
            return change
        seen.append(change)
    # none tells: the one that was filled up the most says best what is missing
    return seen[len(allowed) - 1]


def _change_alike(
    before: PassCurve, after: PassCurve, bins: IntArray, counted: Alike, between_drives_db: float
) -> LevelChange:
    common = counted.both_hold(before, after)
    if not common.size:
        return _NO_CHANGE
    # a table has no holes; keep takes out again what only one drive holds
    run = np.arange(common[0], common[-1] + 1, dtype=np.int64)
    shared = np.isin(run, common)
    before_table = table_of_passes(before, run, counted.before).keep(shared)
    after_table = table_of_passes(after, run, counted.after).keep(shared)
    first, second = _measure(before, before_table), _measure(after, after_table)
    # what could be seen: the old drone in the noise and the passes of the second drive
    as_before = _measure(after, _as_loud(after_table, before_table))
    change = second.level_db - first.level_db
    # independent errors add as squares
    common_arm = math.hypot(_pass_arm_db(first, second), _SURE * between_drives_db, counted.arm_db)
    down, up = _arms_db(first, second, common_arm)
    return LevelChange(
        change_db=change,
        ci95_db=Interval(low=change - down, high=change + up),
        shared=float(common.size / bins.size),
        before_buried=first.buried,
        after_buried=second.buried,
        passes_before=first.passes,
        passes_after=second.passes,
        smallest_change_db=(
            np.nan
            if first.buried or as_before.buried
            else max(_arms_db(first, as_before, common_arm))
        ),
        kept_alike=counted.kept,
        given_up=known_in_both(before, after) - counted.kept,
        unlike_arm_db=counted.arm_db,
        before_db=first.level_db,
        after_db=second.level_db,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measured:
    """One drive's level over the band; arms are for the noise within passes only."""

    level_db: float
    arm_down_db: float
    arm_up_db: float
    buried: bool
    passes: int
    effective_passes: float
    spread_db2: float  # sum of squares between passes, less what noise within passes explains
    spread_freedom: int


def _measure(curve: PassCurve, table: PassTable) -> _Measured:
    mean_ms = float(np.nanmean(table.curve_ms))
    share = _pass_shares(table)
    variance = variance_of_passes(curve, table)
    noise_ms = float(np.sqrt(np.sum(share**2 * variance)))
    misjudged_ms = BACKGROUND_ERROR * float(np.nanmean(table.background_curve_ms))
    # in power: near the noise an interval in dB has no lower end
    half_width = max(_SURE * float(np.hypot(noise_ms, misjudged_ms)), np.finfo(float).tiny)
    buried = mean_ms <= half_width
    level_ms = max(mean_ms, half_width / 2.0)
    spread, spread_freedom = (0.0, 0) if buried else _spread(table, variance)
    return _Measured(
        level_db=_decibels(level_ms),
        arm_down_db=UNKNOWN_ARM_DB if buried else -_decibels(1.0 - half_width / level_ms),
        arm_up_db=_decibels(1.0 + half_width / level_ms),
        buried=buried,
        passes=share.size,
        effective_passes=float(1.0 / np.sum(share**2)),
        spread_db2=spread,
        spread_freedom=spread_freedom,
    )


def _as_loud(table: PassTable, other: PassTable) -> PassTable:
    """Put the order as loud as in ``other`` into the noise and the passes of this drive."""
    return replace(table, net_ms=np.where(table.seconds > 0.0, other.curve_ms, np.nan))


def _arms_db(first: _Measured, second: _Measured, pass_arm_db: float) -> tuple[float, float]:
    """How far the change reaches down and up."""
    return (
        math.hypot(second.arm_down_db, first.arm_up_db, pass_arm_db),
        math.hypot(second.arm_up_db, first.arm_down_db, pass_arm_db),
    )


def _pass_arm_db(first: _Measured, second: _Measured) -> float:
    """Half width from the spread between passes."""
    freedom = PASS_SPREAD_TRUST + first.spread_freedom + second.spread_freedom
    # what noise explains is taken off, and by chance may be more than there is
    seen = max(first.spread_db2 + second.spread_db2, 0.0)
    # what the drives show, weighed with what drivers usually do: two passes tell little by
    # themselves
    variance = (PASS_SPREAD_TRUST * PASS_SPREAD_DB**2 + seen) / freedom
    # the mean of n passes strays less by their square root; passes of unequal weight count for
    # fewer
    of_means = variance * (1.0 / first.effective_passes + 1.0 / second.effective_passes)
    return float(stdtrit(freedom, _COVER) * np.sqrt(of_means))


def _spread(table: PassTable, pass_variance: FloatArray) -> tuple[float, int]:
    """Sum of squares of the passes' levels, in dB against the drive's own curve.

    Kinds of pass are held apart: what gear, load and direction make, they make in both drives.
    """
    of_pass = np.nansum(table.net_ms, axis=1)
    of_drive = np.where(table.seconds > 0.0, table.curve_ms, 0.0).sum(axis=1)
    usable = (of_pass > 0.0) & (of_drive > 0.0)
    if usable.sum() < 2:
        return 0.0, 0
    level_db = 10.0 * np.log10(of_pass[usable] / of_drive[usable])
    kind_of = table.kind[usable]
    kinds = [level_db[kind_of == kind] for kind in np.unique(kind_of)]
    bins = (table.seconds > 0.0).sum(axis=1)[usable]
    noise_db2 = _DB**2 * pass_variance[usable] * (bins / of_drive[usable]) ** 2
    freedom = int(usable.sum()) - len(kinds)
    squares = sum(float(np.sum((kind - kind.mean()) ** 2)) for kind in kinds)
    return squares - freedom * float(noise_db2.mean()), freedom


def _pass_shares(table: PassTable) -> FloatArray:
    """How much each pass counts in the band's mean [shape=(n_passes,)], in sum 1."""
    total = table.weight.sum(axis=0)
    held = total > 0.0
    return np.asarray((table.weight[:, held] / total[held]).mean(axis=1))


_NO_CHANGE = LevelChange(
    change_db=float("nan"),
    ci95_db=Interval(low=float("nan"), high=float("nan")),
    shared=0.0,
    before_buried=False,
    after_buried=False,
    passes_before=0,
    passes_after=0,
    smallest_change_db=float("nan"),
)


def _decibels(ratio: float) -> float:
    return float(10.0 * np.log10(ratio))
