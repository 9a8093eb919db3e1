"""Like with like: how much each point of two drives counts, so that both were driven alike.

What a foot and a gear do to an order is as large as what an exhaust part does: half the load is
6 dB less. So of both drives only what both hold counts, and equally: each rpm bin, gear, load and
direction of the sweep for as long as the drive that holds it shorter. A drive that adds full load
in top gear, or that took more time for its climbs, then says no more than one that did not.

Loads are never quite alike. Each counts with what lies within ``LOAD_REACH`` of it in either
drive; classes with fixed limits would part two feet that are 1 % apart.

Where too little is left, leaving out would lose what the data can tell: two drives that share
68 % of a band's climbs and all of its falls would tell nothing. So conditions are then given up
one by one, the least harmful first (:func:`strictest_first`), and only in those rpm bins that the
drives do not hold alike (:func:`alike`). What that may cost widens the interval by as much of the
band as it concerns; whether a verdict stands that then, is the verdict's own affair.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.find.curves.pass_table import direction
from analysis.findings import PassCurve
from analysis.verdicts import Condition, Conditions

# judgement: how near loads, gears and directions must be, and how far they move a level when they
# are not. 20 % more of each moved nothing where both drives are alike; where not, intervals widen
# by as much.
LOAD_REACH = 0.1  # of full load: nearer than this it is one load; no source
LOAD_UNKNOWN_ARM_DB = 6.0  # climbs against falls, when no load was logged; no source
# Pressure in proportion to load is what a charge of gas gives; judgement: half as much again is the
# arm, as above.
_LOAD_ARM_SHARE = 1.5
_LEAST_LOAD = 0.1  # below it no ratio of loads means anything
_GEAR_ARM_DB = 1.0  # the exhaust knows no gear, a cabin on a faster road may; no source
_DIRECTION_ARM_DB = 0.5  # when loads are alike: heat and rate; no source
_MOSTLY = 0.5  # of the time
_LARGEST_LOAD = 3.0  # any log says less


def known_in_both(before: PassCurve, after: PassCurve) -> Conditions:
    """Conditions that both drives tell most of the time; the direction always."""
    known = {Condition.DIRECTION}
    if knows_gears(before) and knows_gears(after):
        known.add(Condition.GEAR)
    if _mostly_known(before, before.load_part) and _mostly_known(after, after.load_part):
        known.add(Condition.LOAD)
    return frozenset(known)


def knows_gears(curve: PassCurve) -> bool:
    """Whether the drive tells its gear most of the time."""
    return _mostly_known(curve, curve.gear)


def strictest_first(known: Conditions) -> Iterator[Conditions]:
    """Give what to hold alike: all that is known, then less, the dearest given up last."""
    # sorted: a set has no order, and what costs alike would be given up by chance
    subsets = (frozenset(s) for n in range(len(known) + 1) for s in combinations(sorted(known), n))
    yield from sorted(subsets, key=lambda kept: _cost(known - kept, known))


def _cost(given_up: Conditions, known: Conditions) -> int:
    direction = 1 if Condition.LOAD in known else 4  # without a log it stands for the load
    costs = {Condition.DIRECTION: direction, Condition.GEAR: 2, Condition.LOAD: 4}
    return sum(costs[each] for each in given_up)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """How much each point of two drives counts over some rpm bins.

    Attributes
    ----------
    before, after : seconds for which each point counts [shape=(n_points,)]; 0 for not at all
    kept : what was kept alike in every bin
    arm_db : half of a 95 % interval for what was not
    """

    before: FloatArray
    after: FloatArray
    kept: Conditions
    arm_db: float

    def both_hold(self, before: PassCurve, after: PassCurve) -> IntArray:
        """Rpm bins that both drives hold, rising."""
        return np.intersect1d(
            before.bin_index[self.before > 0.0], after.bin_index[self.after > 0.0]
        )


def alike(
    before: PassCurve, after: PassCurve, bins: IntArray, allowed: Sequence[Conditions]
) -> Alike:
    """Keep each bin as alike as it can be.

    Parameters
    ----------
    bins : indices of the wanted rpm bins [shape=(n_bins,)]
    allowed : sets of conditions to keep, at least one, the strictest first
    """
    first, second = np.zeros(before.rpm.size), np.zeros(after.rpm.size)
    kept, rises, open_bins = allowed[0], 0.0, np.unique(bins)
    held = 0
    for conditions in allowed:
        weights = weights_alike(before, after, conditions)
        now = Alike(
            before=np.where(np.isin(before.bin_index, open_bins), weights[0], 0.0),
            after=np.where(np.isin(after.bin_index, open_bins), weights[1], 0.0),
            kept=conditions,
            arm_db=0.0,
        )
        filled = now.both_hold(before, after)
        if not filled.size:
            continue
        first += now.before
        second += now.after
        kept &= conditions
        arm_db = _unlike_arm_db(before, now.before, after, now.after, conditions)
        # as power: half of the band 6 dB off is not all of it 3 dB off
        rises += filled.size * 10.0 ** (0.1 * arm_db)
        held += filled.size
        open_bins = np.setdiff1d(open_bins, filled)
    arm_db = 10.0 * float(np.log10(rises / held)) if held else 0.0
    return Alike(before=first, after=second, kept=kept, arm_db=arm_db)


def weights_alike(
    before: PassCurve, after: PassCurve, kept: Conditions
) -> tuple[FloatArray, FloatArray]:
    """Seconds for which each point counts, of both drives [shape=(n_points,)]; 0 for not at all.

    Points whose state is not known do not count where that state is kept alike.
    """
    first, second = _place(before, kept), _place(after, kept)
    # without a load in it a state is a whole number, and half of one parts two
    reach = LOAD_REACH if Condition.LOAD in kept else 0.5

    def of(own: PassCurve, at: FloatArray) -> FloatArray:
        held = [_seconds_near(*pair, at, reach) for pair in ((before, first), (after, second))]
        mine = held[0] if own is before else held[1]
        share = np.minimum(*held) / np.where(mine > 0.0, mine, 1.0)
        return np.where(np.isfinite(at), own.seconds * share, 0.0)

    return of(before, first), of(after, second)


def _unlike_arm_db(
    before: PassCurve,
    before_weight: FloatArray,
    after: PassCurve,
    after_weight: FloatArray,
    kept: Conditions,
) -> float:
    """Half of a 95 % interval for what is not alike in two drives, in dB.

    Parameters
    ----------
    before_weight, after_weight : how much each of a drive's points counts [shape=(n_points,)]
    kept : what was kept alike
    """
    known = known_in_both(before, after)
    arms_db = [0.0]
    if Condition.LOAD in known:
        first, second = _mean_load(before, before_weight), _mean_load(after, after_weight)
        arms_db.append(_LOAD_ARM_SHARE * 20.0 * abs(float(np.log10(second / first))))
    if Condition.DIRECTION not in kept:
        arms_db.append(_DIRECTION_ARM_DB if Condition.LOAD in known else LOAD_UNKNOWN_ARM_DB)
    if Condition.GEAR not in kept and may_differ_in_gear(before, after):
        arms_db.append(_GEAR_ARM_DB)
    return float(np.linalg.norm(arms_db))


def may_differ_in_gear(before: PassCurve, after: PassCurve) -> bool:
    """Whether two drives can have been in different gears, as far as either tells.

    Where neither tells, the driver was asked to drive the same way twice, and that is believed.
    """
    tell = [curve.gear[np.isfinite(curve.gear)] for curve in (before, after) if knows_gears(curve)]
    return bool(tell) and np.unique(np.concatenate(tell)).size > 1


def _place(curve: PassCurve, kept: Conditions) -> FloatArray:
    """One number for the state of each point: loads are apart as they are, all else far apart."""
    cell = curve.bin_index.astype(np.float64)
    if Condition.GEAR in kept:
        # NaN where the gear is not known, so the point is near nothing and counts for nothing
        cell = 1000.0 * cell + curve.gear
    if Condition.DIRECTION in kept:
        # directions are -1, 0 and 1: so far apart none meets that of the next cell
        cell = 3.0 * cell + direction(curve)
    # twice the largest load apart, so that no load reaches into the next gear or bin
    place = 2.0 * _LARGEST_LOAD * cell
    if Condition.LOAD in kept:
        place = place + np.clip(curve.load_part, 0.0, _LARGEST_LOAD)
    return np.asarray(place)


def _seconds_near(curve: PassCurve, place: FloatArray, at: FloatArray, reach: float) -> FloatArray:
    """Seconds that a drive spent within reach of each place; 0 where a place is not known."""
    order = np.argsort(place)  # what is not known goes last, beyond any place
    counted = np.where(np.isfinite(place), curve.seconds, 0.0)[order]
    total = np.concatenate([[0.0], np.cumsum(counted)])
    first = np.searchsorted(place[order], at - reach, side="left")
    last = np.searchsorted(place[order], at + reach, side="right")
    held = total[last] - total[first]
    # differences of a running sum leave roundings where nothing is held
    return np.where(held > 1e-9, held, 0.0)


def _mostly_known(curve: PassCurve, values: FloatArray) -> bool:
    known: BoolArray = np.isfinite(values)
    return bool(curve.seconds[known].sum() > _MOSTLY * curve.seconds.sum())


def _mean_load(curve: PassCurve, weight: FloatArray) -> float:
    counts = (weight > 0.0) & np.isfinite(curve.load_part)
    if not counts.any():
        return 1.0
    mean = float(np.average(curve.load_part[counts], weights=weight[counts]))
    return max(mean, _LEAST_LOAD)
