"""Try branches on every guess at the exhaust: what each does to the drone and to the rest.

Arrays broadcast as (trial, member, frequency).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics import duct
from analysis.acoustics.branch_shape import taken_in
from analysis.acoustics.end_correction import junction_correction_m, widening_correction_m
from analysis.acoustics.gas import PRESSURE_PA, Gas, exhaust_gas
from analysis.acoustics.network import (
    AnyComplexArray,
    Places,
    exponential,
    first_of_two,
    insertion_one,
    power,
    second_of_two,
)
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.basics.rows import rows
from analysis.branches import Can

WORST = 0.9  # quantile of the guesses: the worst case; judgement: one in ten may be worse

# judgement: what the model and the steps of frequency leave out; how near to the worst guess others
# count; and what a decibel beyond the cure is worth. Larger ones make fewer places count as sure,
# and weigh the mean case against the worst. 20 % more of _SOFT_DB moves a length by 14 mm and the
# outlook by 0.4 dB, of the others nothing.
_TO_SPARE_DB = 0.7  # for what the model, and the steps of frequency, leave out
_SOFT_DB = 3.0  # guesses within this of the worst one count nearly like it
_MORE_IS_BETTER = 0.15  # weight of a mean decibel beyond the cure

# Single branches and lengths kept; judgement: memory against time, moves no answer.
_KEPT = 128

_T = TypeVar("_T", bound=np.generic)
Floats: TypeAlias = NDArray[np.floating[Any]]
_Tube: TypeAlias = tuple[AnyComplexArray, AnyComplexArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Branches to try; arrays [shape=(n_trials, n_branches)], all of one bore, with cans or none.

    ``place`` counts the bench's places; two branches stand in the order of the flow.
    """

    place: IntArray
    length_m: FloatArray
    bore_m: float
    can: Can | None = None

    def __getitem__(self, which: IntArray | slice) -> Trials:
        return rows(self, which)

    @property
    def count(self) -> int:
        """Number of trials."""
        return int(self.place.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Change of the highest level of the drone, and of the rest, [shape=(n_trials, n_members)]."""

    drone_db: FloatArray
    elsewhere_db: FloatArray

    @property
    def short_of_cure_db(self) -> FloatArray:
        """How far each is from a sure cure; negative is cured with that much to spare."""
        short = np.maximum(self.drone_db - CURED_DB, self.elsewhere_db - ELSEWHERE_DB)
        return np.asarray(short + _TO_SPARE_DB)

    @property
    def cured_share(self) -> FloatArray:
        """Share of the guesses that are cured, [shape=(n_trials,)]."""
        return np.asarray(np.mean(self.short_of_cure_db <= 0.0, axis=1))

    @property
    def score_db(self) -> FloatArray:
        """Softened worst case, lower is better, [shape=(n_trials,)]."""
        # clipped, so that one hopeless or splendid guess does not decide alone
        short = np.clip(self.short_of_cure_db, -12.0, 30.0) / _SOFT_DB
        # a smooth maximum: a walk needs to see that the second worst guess got better as well
        worst = _SOFT_DB * np.log(np.mean(np.exp(short), axis=1))
        return np.asarray(worst + _MORE_IS_BETTER * self.drone_db.mean(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaustBench:
    """All that branches are tried on.

    Attributes
    ----------
    frequency_hz, near : [shape=(n_frequency,)]; ``near`` marks what counts as the drone
    before_db : level before, [shape=(n_members, n_frequency)]
    places : [n_places, n_members, n_frequency]; their precision is that of all work on the bench
    position_m, pipe_bore_m : of each place, [shape=(n_places,)]
    branch_k : gas in the first and second branch, [shape=(n_members, 2)]
    swept : share of the junction's correction that the stream takes away, [shape=(n_members,)]
    mouth : resistance of the mouths over rho c, [shape=(n_places, n_members, n_frequency)]
    neck_hotter_k : how much hotter than its can a neck is, [shape=(n_members,)]; zero, one for all,
        where nobody knows
    """

    frequency_hz: FloatArray
    near: BoolArray
    before_db: FloatArray
    places: Places
    position_m: FloatArray
    pipe_bore_m: FloatArray
    branch_k: FloatArray
    swept: FloatArray
    mouth: Floats
    neck_hotter_k: FloatArray = field(default_factory=lambda: np.zeros(1))

    def thinned(self, members: IntArray | slice, frequencies: IntArray | slice) -> ExhaustBench:
        """Keep some of the guesses and frequencies."""

        def fewer(values: NDArray[_T]) -> NDArray[_T]:
            return values[:, members][:, :, frequencies]

        return ExhaustBench(
            frequency_hz=self.frequency_hz[frequencies],
            near=self.near[frequencies],
            before_db=self.before_db[members][:, frequencies],
            places=Places(
                from_source=fewer(self.places.from_source), to_outlet=fewer(self.places.to_outlet)
            ),
            position_m=self.position_m,
            pipe_bore_m=self.pipe_bore_m,
            branch_k=self.branch_k[members],
            swept=self.swept[members],
            mouth=fewer(self.mouth),
            neck_hotter_k=np.broadcast_to(self.neck_hotter_k, self.swept.shape)[members],
        )

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess."""
        return Trier(self, trials.bore_m, trials.can).outcome(trials)

    def lost(self, trials: Trials) -> FloatArray:
        """Power before over after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.array(list(Trier(self, trials.bore_m, trials.can).lost(trials)))

    @property
    def precision(self) -> np.dtype[np.floating[Any]]:
        """Of all that is worked out on the bench."""
        return self.places.to_outlet.real.dtype

    def highest_db(self, part: BoolArray) -> FloatArray:
        """Highest level before at these frequencies, [shape=(n_members,)]; 0 of none."""
        return np.asarray(self.before_db[:, part].max(axis=-1) if part.any() else 0.0)

    def after_db(self, trials: Trials) -> FloatArray:
        """Level after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.asarray(self.before_db - 10.0 * np.log10(self.lost(trials)))


class Trier:
    """Tries branches of one bore, with this can or none, on one bench.

    Trials share most of their branches, and a walk comes by the same places again, so what was
    worked out last of single branches is kept, and what each trial does for good.
    """

    def __init__(self, bench: ExhaustBench, bore_m: float, can: Can | None) -> None:
        self.bench = bench
        self._gases = [_InGas(bench, bore_m, can, branch) for branch in (0, 1)]
        self._in_pair = lru_cache(maxsize=_KEPT)(self._worked_out)
        self._least: dict[tuple[float, ...], Floats] = {}
        # the drone and the rest are stretches of frequency, one after the other
        self._starts = np.flatnonzero(np.diff(bench.near, prepend=~bench.near[0]))
        self.weight = (10.0 ** (-0.1 * bench.before_db)).astype(bench.precision)

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess."""
        keys = list(map(tuple, np.hstack([trials.place, trials.length_m]).tolist()))
        new = {key: row for row, key in enumerate(keys) if key not in self._least}
        tried = trials[np.array(list(new.values()), dtype=np.int64)]
        for key, lost in zip(new, self.lost(tried), strict=True):
            self._least[key] = np.minimum.reduceat(lost * self.weight, self._starts, axis=-1)
        least = np.array([self._least[key] for key in keys]).transpose(2, 0, 1)
        near = self.bench.near[self._starts]
        return self.outcome_of(least_along(least, near), least_along(least, ~near))

    def outcome_of(self, near: Floats, rest: Floats) -> Outcome:
        """Turn the least of the power lost over the level before into what becomes of the levels.

        The loudest speed may be another one afterwards, so the highest level is taken before and
        after.
        """
        drone_db, elsewhere_db = (
            -10.0 * np.log10(after.astype(np.float64)) - self.bench.highest_db(part)
            for after, part in ((near, self.bench.near), (rest, ~self.bench.near))
        )
        return Outcome(drone_db=drone_db, elsewhere_db=elsewhere_db)

    def lost(self, trials: Trials) -> Iterator[Floats]:
        """Power before over after of each trial, [shape=(n_members, n_frequency)]."""
        for places, lengths_m in zip(trials.place.tolist(), trials.length_m.tolist(), strict=True):
            if len(places) == 1:
                admittance = self._gases[0].admittance(places[0], lengths_m[0])
                at_branch = self.bench.places.transfer(places[0], places[0])
                yield power(insertion_one(admittance, at_branch))
            else:
                pair = (
                    self._in_pair(*each) for each in zip((0, 1), places, lengths_m, strict=True)
                )
                yield np.einsum("kmf,kmf->mf", *pair)

    def in_pairs(self, singles: Trials) -> list[Floats]:
        """Each as the first and as the second of two, both in the first one's gas.

        [shape=(n, 4, n_members, n_frequency)]
        """
        rows = list(zip(singles.place[:, 0].tolist(), singles.length_m[:, 0].tolist(), strict=True))
        inward = [(self._gases[0].admittance(*row), self.bench.places, row[0]) for row in rows]
        return [np.array([make(*row) for row in inward]) for make in (first_of_two, second_of_two)]

    def _worked_out(self, branch: int, place: int, length_m: float) -> Floats:
        make = (first_of_two, second_of_two)[branch]
        admittance = self._gases[branch].admittance(place, length_m)
        return make(admittance, self.bench.places, place)


class _InGas:
    """Single branches in the gas of the first or of the second one, everywhere on a bench."""

    def __init__(self, bench: ExhaustBench, bore_m: float, can: Can | None, branch: int) -> None:
        self._bench, self._bore_m, self._can = bench, bore_m, can
        gas = in_neck = exhaust_gas(bench.branch_k[:, branch])
        if can is not None:
            in_neck = exhaust_gas(bench.branch_k[:, branch] + bench.neck_hotter_k)
            self._in_can_per_m = self._twice_per_m(gas, can.tube.inner_diameter_m)
            ratio = (can.tube.inner_diameter_m / bore_m) ** 2 * taken_in(gas) / taken_in(in_neck)
            self._area_ratio = ratio[:, None].astype(bench.precision)
        self._per_m = self._twice_per_m(in_neck, bore_m)
        own = taken_in(in_neck) / PRESSURE_PA * np.pi / 4.0 * bore_m**2
        self._own = own[:, None].astype(bench.precision)
        # one length on one bore is one tube, wherever it stands
        self._behind = lru_cache(maxsize=_KEPT)(self._behind_mouth)

    def admittance(self, place: int, length_m: float) -> AnyComplexArray:
        """Input admittance, m3/(Pa s), [shape=(n_members, n_frequency)]."""
        taken, back, forth = self._behind(float(self._bench.pipe_bore_m[place]), length_m)
        met = self._bench.mouth[place] * back
        met += forth
        return np.asarray(np.divide(taken, met, out=met))

    def _twice_per_m(self, gas: Gas, bore_m: float) -> AnyComplexArray:
        per_m = duct.propagation_per_m(self._bench.frequency_hz, gas.spread(), bore_m)
        return (-2.0 * per_m).astype(self._bench.places.to_outlet.dtype)

    def _behind_mouth(self, pipe_bore_m: float, length_m: float) -> tuple[AnyComplexArray, ...]:
        back, forth = self._all_tube(pipe_bore_m, length_m)
        return self._own * back, back, forth

    def _all_tube(self, pipe_bore_m: float, length_m: float) -> _Tube:
        longer_m = junction_correction_m(self._bore_m, pipe_bore_m) * (1.0 - self._bench.swept)
        can = self._can
        if can is None:
            return self._tube(self._per_m, length_m + longer_m)
        wide_m = can.tube.inner_diameter_m
        neck_m = can.neck_m + longer_m + widening_correction_m(self._bore_m, wide_m)
        neck = self._tube(self._per_m, neck_m)
        behind = self._tube(self._in_can_per_m, np.array([length_m - can.neck_m]))
        # a neck and a can behind it together, as one tube: see branch_shape
        return (
            neck[0] * behind[1] + self._area_ratio * behind[0] * neck[1],
            neck[1] * behind[1] + self._area_ratio * neck[0] * behind[0],
        )

    def _tube(self, twice_per_m: AnyComplexArray, length_m: FloatArray) -> _Tube:
        """Sine and cosine of a closed tube, hyperbolic, over what both grow by."""
        # tanh as a quotient of these, and the quotient only after all is multiplied: fewer
        # divisions
        there_and_back = exponential(twice_per_m * length_m[:, None].astype(self._bench.precision))
        return 1.0 - there_and_back, 1.0 + there_and_back


def least_along(values: Floats, part: BoolArray) -> Floats:
    """Least along a part of the first axis; infinite where there is none."""
    return np.asarray(values[part].min(axis=0, initial=np.inf))
