"""Try branches on every guess at the exhaust: what each does to the drone and to the rest.

Arrays broadcast as (trial, member, frequency).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics import duct
from analysis.acoustics.branch_shape import taken_in
from analysis.acoustics.end_correction import junction_correction_m, widening_correction_m
from analysis.acoustics.gas import PRESSURE_PA, Gas, exhaust_gas
from analysis.acoustics.network import (
    AnyComplexArray,
    Attached,
    Places,
    attached,
    exponential,
    insertion_one,
    insertion_two,
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
_CHUNK = 1_500_000  # complex numbers at once; judgement: memory against calls, moves no answer

_T = TypeVar("_T", bound=np.generic)


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
    mouth: NDArray[np.floating[Any]]
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
        size = self.before_db.size
        step = max(_CHUNK // size, 1)
        parts = [
            self._changes(self.lost(trials[slice(start, start + step)]))
            for start in range(0, trials.count, step)
        ]
        drone, elsewhere = (np.concatenate(column) for column in zip(*parts, strict=True))
        return Outcome(drone_db=drone, elsewhere_db=elsewhere)

    def lost(self, trials: Trials) -> FloatArray:
        """Power before over after, [shape=(n_trials, n_members, n_frequency)].

        Trials share most of their branches, so each different branch is worked out once.
        """
        first, which = self._branches(trials, 0)
        if trials.place.shape[1] == 1:
            at = first.place[:, 0]
            whole = insertion_one(self.admittance(first, 0), self.places.transfer(at, at))
            return _power(whole)[which]
        second, which_second = self._branches(trials, 1)
        upstream, downstream = self.attached(first, 0), self.attached(second, 1)
        out = np.empty((trials.count, *upstream.alone.shape[1:]), upstream.alone.real.dtype)
        # trial by trial, so that all it takes stays in the processor's cache
        for power, one, other in zip(out, which, which_second, strict=True):
            power[:] = _power(insertion_two(upstream, one, downstream, other))
        return out

    def attached(self, singles: Trials, branch: int) -> Attached:
        """Put single branches on the exhaust, in the gas of one branch."""
        return attached(self.admittance(singles, branch), self.places, singles.place[:, 0])

    def _branches(self, trials: Trials, branch: int) -> tuple[Trials, IntArray]:
        """Give the different branches on one side, and which of them each trial has."""
        pairs = np.stack([trials.place[:, branch], trials.length_m[:, branch]], axis=1)
        pairs, which = np.unique(pairs, axis=0, return_inverse=True)
        one = replace(trials, place=pairs[:, :1].astype(np.int64), length_m=pairs[:, 1:])
        return one, which

    def after_db(self, trials: Trials) -> FloatArray:
        """Level after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.asarray(self.before_db - 10.0 * np.log10(self.lost(trials)))

    def admittance(self, singles: Trials, branch: int) -> AnyComplexArray:
        """Input admittance of single branches, in the gas of one branch, m3/(Pa s)."""
        gas = exhaust_gas(self.branch_k[:, branch])
        in_neck = gas
        if singles.can is not None:
            in_neck = exhaust_gas(self.branch_k[:, branch] + self.neck_hotter_k)
        own = taken_in(in_neck) / PRESSURE_PA * np.pi / 4.0 * singles.bore_m**2
        place = singles.place[:, 0]
        # one length on one bore is one tube, wherever it stands
        kinds = np.stack([self.pipe_bore_m[place], singles.length_m[:, 0]], axis=1)
        kinds, kind = np.unique(kinds, axis=0, return_inverse=True)
        longer = [junction_correction_m(singles.bore_m, bore_m) for bore_m in kinds[:, 0]]
        junction_m = np.array(longer)[:, None] * (1.0 - self.swept)
        length_m = kinds[:, 1:]
        can = singles.can
        if can is None:
            back, forth = self._tube(gas, singles.bore_m, length_m + junction_m)
        else:
            wide_m = can.tube.inner_diameter_m
            neck_m = can.neck_m + junction_m + widening_correction_m(singles.bore_m, wide_m)
            if np.ptp(longer) == 0.0:  # on one bore: all necks are alike
                neck_m = neck_m[:1]
            back, forth = _in_a_row(
                self._tube(in_neck, singles.bore_m, neck_m),
                self._tube(gas, wide_m, length_m - can.neck_m),
                ((wide_m / singles.bore_m) ** 2 * taken_in(gas) / taken_in(in_neck))[:, None],
            )
        taken = own[:, None].astype(back.real.dtype) * back
        out = np.empty((place.size, *back.shape[1:]), dtype=back.dtype)
        for here, at, tube in zip(out, place, kind, strict=True):
            np.multiply(self.mouth[at], back[tube], out=here)
            here += forth[tube]
            np.divide(taken[tube], here, out=here)
        return out

    def _tube(
        self, gas: Gas, bore_m: float, length_m: FloatArray
    ) -> tuple[AnyComplexArray, AnyComplexArray]:
        """Sine and cosine of a closed tube, hyperbolic, over what both grow by.

        ``length_m`` [shape=(n_trials, n_members or 1)].
        """
        per_m = duct.propagation_per_m(self.frequency_hz, gas.spread(), bore_m)
        precision = self.places.to_outlet.dtype
        twice = (-2.0 * per_m).astype(precision)
        # tanh as a quotient of these, and the quotient only after all is multiplied: fewer
        # divisions
        there_and_back = exponential(twice * length_m[..., None].astype(twice.real.dtype))
        return 1.0 - there_and_back, 1.0 + there_and_back

    def _changes(self, lost: FloatArray) -> tuple[FloatArray, FloatArray]:
        before = 10.0 ** (0.1 * self.before_db)
        # the loudest speed may be another one afterwards, so the highest level is taken before and
        # after
        after = before / lost
        drone = _decibels(after[..., self.near].max(axis=-1), before[..., self.near].max(axis=-1))
        if self.near.all():
            return drone, np.full_like(drone, -np.inf)
        rest = ~self.near
        return drone, _decibels(after[..., rest].max(axis=-1), before[..., rest].max(axis=-1))


def _in_a_row(
    neck: tuple[AnyComplexArray, AnyComplexArray],
    can: tuple[AnyComplexArray, AnyComplexArray],
    area_ratio: FloatArray,
) -> tuple[AnyComplexArray, AnyComplexArray]:
    """Give what a neck and a can behind it are together, as one tube: see branch_shape."""
    area_ratio = area_ratio.astype(neck[0].real.dtype)
    return (
        neck[0] * can[1] + area_ratio * can[0] * neck[1],
        neck[1] * can[1] + area_ratio * neck[0] * can[0],
    )


def _power(flow: AnyComplexArray) -> FloatArray:
    return np.asarray(flow.real**2 + flow.imag**2)


def _decibels(after: FloatArray, before: FloatArray) -> FloatArray:
    return np.asarray(10.0 * np.log10(after / before))
