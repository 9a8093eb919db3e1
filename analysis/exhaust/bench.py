"""Try branches on every guess at the exhaust: what each does to the drone and to the rest.

Arrays broadcast as (trial, member, frequency).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics import duct
from analysis.acoustics.branch_shape import taken_in
from analysis.acoustics.end_correction import (
    junction_correction_m,
    tee_shortening_m,
    widening_correction_m,
)
from analysis.acoustics.gas import PRESSURE_PA, Gas, exhaust_gas
from analysis.acoustics.network import Places, Spot, determinant, power
from analysis.acoustics.two_port import AnyComplexArray, exponential
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.basics.rows import rows
from analysis.branches import Can
from analysis.exhaust.stations import Stations

WORST = 0.9  # quantile of the guesses: the worst case; judgement: one in ten may be worse

# judgement: what the model and the steps of frequency leave out; how near to the worst guess others
# count; and what a decibel beyond the cure is worth. Larger ones make fewer places count as sure,
# and weigh the mean case against the worst. 20 % more of _SOFT_DB moves a length by 14 mm and the
# outlook by 0.4 dB, of the others nothing.
_TO_SPARE_DB = 0.7  # for what the model, and the steps of frequency, leave out
_SOFT_DB = 3.0  # guesses within this of the worst one count nearly like it
_MORE_IS_BETTER = 0.15  # weight of a mean decibel beyond the cure

# keeps a logarithm and a quotient finite, 200 dB down; judgement: moves no answer
_SILENT = 1e-20

# judgement: places where the pipe's gas is the same within this are taken for one; it moves the
# length of a branch as hot as its pipe by 1 % at most
_SAME_GAS_K = 10.0

# Single branches and lengths kept; judgement: memory against time, moves no answer.
_KEPT = 128

Floats: TypeAlias = NDArray[np.floating[Any]]
_Mouth: TypeAlias = tuple[int, int]  # place, and the side it leans to
_Tube: TypeAlias = tuple[AnyComplexArray, AnyComplexArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Branches to try; arrays [shape=(n_trials, n_branches)], all of one bore, with cans or none.

    ``place`` counts the bench's stations; two branches stand in the order of the flow.
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
class Mouth:
    """Where a branch works, pressure there before over what is heard, what is heard of it."""

    spot: Spot
    before: AnyComplexArray
    heard: AnyComplexArray


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
    stations : where branches may go
    places : the stations' places; their precision is that of all work on the bench
    pipe_bore_m : at each station, [shape=(n_stations,)]
    mass_per_m : density over cross-section of the pipe at each place, [(n_places, n_members)]
    branch_k : gas in the first and second branch, then in those on the pipes that mirror theirs,
        [shape=(n_members, 2 or 4)]
    swept : share of the junction's correction that the stream takes away, [shape=(n_members,)]
    mouth : resistance of the mouths over rho c, [shape=(n_places, n_members, n_frequency)]
    neck_hotter_k : how much hotter than its can a neck is, [shape=(n_members,)]; zero, one for all,
        where nobody knows
    beside_k : gas in the pipe at each place, than which none in a branch is hotter,
        [shape=(n_places, n_members)]; infinite, one for all, where ``branch_k`` heeds that already
    left_out_db : what the guesses do not tell of a change, [shape=(n_members,)]; zero, one for all,
        where they meet the drive as well as drives can be met
    beside : what is heard that comes from no outlet, over what does, before any branch,
        [shape=(n_members, n_frequency)]; zero, one for all, where all comes from the outlets
    """

    frequency_hz: FloatArray
    near: BoolArray
    before_db: FloatArray
    stations: Stations
    places: Places
    pipe_bore_m: FloatArray
    mass_per_m: Floats
    branch_k: FloatArray
    swept: FloatArray
    mouth: Floats
    neck_hotter_k: FloatArray = field(default_factory=lambda: np.zeros(1))
    beside_k: FloatArray = field(default_factory=lambda: np.full((1, 1), np.inf))
    left_out_db: FloatArray = field(default_factory=lambda: np.zeros(1))
    beside: AnyComplexArray = field(default_factory=lambda: np.zeros((1, 1), np.complex64))

    def thinned(self, members: IntArray | slice, frequencies: IntArray | slice) -> ExhaustBench:
        """Keep some of the guesses and frequencies."""
        return replace(
            self,
            frequency_hz=self.frequency_hz[frequencies],
            near=self.near[frequencies],
            before_db=self.before_db[members][:, frequencies],
            places=self.places.thinned(members, frequencies),
            mass_per_m=self.mass_per_m[:, members],
            branch_k=self.branch_k[members],
            swept=self.swept[members],
            mouth=self.mouth[:, members][:, :, frequencies],
            neck_hotter_k=np.broadcast_to(self.neck_hotter_k, self.swept.shape)[members],
            beside_k=np.broadcast_to(self.beside_k, (self.places.duct.size, self.swept.size))[
                :, members
            ],
            left_out_db=np.broadcast_to(self.left_out_db, self.swept.shape)[members],
            beside=np.broadcast_to(self.beside, self.before_db.shape)[members][:, frequencies],
        )

    def silenced(self) -> Outcome:
        """Say what is left where no outlet lets out any sound, [shape=(1, n_members)]."""
        left_db = 20.0 * np.log10(np.abs(self.beside / (1.0 + self.beside)) + _SILENT)
        after_db = self.before_db + left_db
        drone_db, elsewhere_db = (
            (after_db[:, part].max(axis=-1) if part.any() else 0.0) - self.highest_db(part)
            for part in (self.near, ~self.near)
        )
        return Outcome(drone_db=drone_db[None], elsewhere_db=np.atleast_2d(elsewhere_db))

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess."""
        return Trier(self, trials.bore_m, trials.can).outcome(trials)

    def lost(self, trials: Trials) -> FloatArray:
        """Power before over after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.array(list(Trier(self, trials.bore_m, trials.can).lost(trials)))

    @property
    def position_m(self) -> FloatArray:
        """Of each station, along its pipe."""
        return self.stations.position_m

    @property
    def precision(self) -> np.dtype[np.floating[Any]]:
        """Of all that is worked out on the bench."""
        return self.places.through.real.dtype

    def apart_m(self, one: IntArray, other: IntArray) -> FloatArray:
        """Distance between stations along their pipe; infinite if they are on different ones."""
        pipe, at_m = self.stations.pipe, self.position_m
        apart_m = np.abs(at_m[one] - at_m[other])
        return np.where(pipe[one] == pipe[other], apart_m, np.inf)

    def highest_db(self, part: BoolArray) -> FloatArray:
        """Highest level before at these frequencies, [shape=(n_members,)]; 0 of none."""
        return np.asarray(self.before_db[:, part].max(axis=-1) if part.any() else 0.0)

    def after_db(self, trials: Trials) -> FloatArray:
        """Level after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.asarray(self.before_db - 10.0 * np.log10(self.lost(trials)))


class Trier:
    """Tries branches of one bore, with this can or none, on one bench.

    Trials share most of their branches, and a walk comes by the same places again, so what was
    worked out last is kept, and what each trial does for good.
    """

    def __init__(self, bench: ExhaustBench, bore_m: float, can: Can | None) -> None:
        self.bench, self._bore_m = bench, bore_m
        self._can, self._like = can, _places_of_one_gas(bench)
        self._in_gas = lru_cache(maxsize=None)(self._in_gas_at)
        self._spot = lru_cache(maxsize=_KEPT)(self._beside_mouth)
        self.admittance = lru_cache(maxsize=_KEPT)(self._admittance)
        self._between = lru_cache(maxsize=_KEPT)(self._coupled)
        self._least: dict[tuple[float, ...], Floats] = {}
        # the drone and the rest are stretches of frequency, one after the other
        self._starts = np.flatnonzero(np.diff(bench.near, prepend=~bench.near[0]))
        self.weight = (10.0 ** (-0.1 * bench.before_db)).astype(bench.precision)
        self.has_beside = bool(bench.beside.any())
        self._whole = power(1.0 + bench.beside)

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
        return Outcome(drone_db=drone_db + self.bench.left_out_db, elsewhere_db=elsewhere_db)

    def lost(self, trials: Trials) -> Iterator[Floats]:
        """Power before over after of each trial, [shape=(n_members, n_frequency)]."""
        for stations, lengths_m in zip(
            trials.place.tolist(), trials.length_m.tolist(), strict=True
        ):
            yield self._lost(stations, lengths_m)

    def _lost(self, stations: list[int], lengths_m: list[float]) -> Floats:
        spots: list[_Mouth] = []
        admittances: list[AnyComplexArray] = []
        for number, (station, length_m) in enumerate(zip(stations, lengths_m, strict=True)):
            for side, place in enumerate(self.bench.stations.places[station]):
                spots.append((place, self._leans(number, stations)))
                admittances.append(self.admittance(number + 2 * side, station, side, length_m))
        coupling = [[self.between(one, other) for other in spots] for one in spots]
        divided = determinant(_with_one(admittances, coupling))
        if self.bench.places.is_one_way:
            return self._with_beside(divided)
        passing: list[list[AnyComplexArray]] = [
            [
                g - self._spot(*one).before * self._spot(*other).heard
                for other, g in zip(spots, row, strict=True)
            ]
            for one, row in zip(spots, coupling, strict=True)
        ]
        return self._with_beside(divided / determinant(_with_one(admittances, passing)))

    def _with_beside(self, divided: AnyComplexArray) -> Floats:
        """Power before over after, where what comes from the outlets is divided by this."""
        if not self.has_beside:
            return power(divided)
        left = power(1.0 + self.bench.beside * divided)
        return np.asarray(self._whole * power(divided) / np.maximum(left, _SILENT))

    def _leans(self, number: int, stations: list[int]) -> int:
        """Say to which side of its axis a branch works: towards another one on its pipe."""
        pipe = self.bench.stations.pipe
        if len(stations) == 1 or pipe[stations[0]] != pipe[stations[1]]:
            return 0
        return -1 if number else 1

    def _admittance(self, gas: int, station: int, side: int, length_m: float) -> AnyComplexArray:
        """Input admittance of a branch, m3/(Pa s), [shape=(n_members, n_frequency)]."""
        place = self.bench.stations.places[station][side]
        pipe_bore_m = float(self.bench.pipe_bore_m[station])
        return self._in_gas(gas, int(self._like[place])).admittance(place, pipe_bore_m, length_m)

    def _in_gas_at(self, gas: int, place: int) -> _InGas:
        limit_k = np.broadcast_to(self.bench.beside_k, (self._like.size, self.bench.swept.size))
        branch_k = np.minimum(self.bench.branch_k[:, gas], limit_k[place])
        return _InGas(self.bench, self._bore_m, self._can, branch_k)

    def between(self, one: _Mouth, other: _Mouth) -> AnyComplexArray:
        """Pressure at one mouth for a unit of volume velocity at another, Pa s/m3."""
        # the same from either end, as in any network of pipes: each two are worked out once
        return self._between(min(one, other), max(one, other))

    def mouth(self, place: int, leans: int) -> Mouth:
        """Look at one place."""
        return self._spot(place, leans)

    def _coupled(self, one: _Mouth, other: _Mouth) -> AnyComplexArray:
        return self.bench.places.between(self._spot(*one).spot, self._spot(*other).spot)

    def _beside_mouth(self, place: int, leans: int) -> Mouth:
        """Half a tee away from the branch's axis where the pipe on that side is followed."""
        places = self.bench.places
        spot = places.spot(place, leans * self._half_tee(place) if leans else None)
        return Mouth(spot=spot, before=places.pressure_before(spot), heard=places.heard_from(spot))

    def _half_tee(self, place: int) -> AnyComplexArray:
        """Impedance of the mass that a tee takes from the pipe on each side of it."""
        bench = self.bench
        station = next(n for n, each in enumerate(bench.stations.places) if place in each)
        shorter_m = tee_shortening_m(self._bore_m, float(bench.pipe_bore_m[station]))
        omega = 2.0 * np.pi * bench.frequency_hz
        whole = 1j * omega * shorter_m * bench.mass_per_m[place][:, None]
        return np.asarray(whole.astype(bench.places.through.dtype))


def _places_of_one_gas(bench: ExhaustBench) -> IntArray:
    """For each place, the first one where branches are as hot as there."""
    limit_k = np.broadcast_to(bench.beside_k, (bench.places.duct.size, bench.swept.size))
    middle_k = np.median(limit_k, axis=1)
    middle_k[limit_k.min(axis=1) >= bench.branch_k.max()] = np.inf
    _, first, which = np.unique(
        np.round(middle_k / _SAME_GAS_K), return_index=True, return_inverse=True
    )
    return np.asarray(first[which], dtype=np.int64)


class _InGas:
    """Single branches in gas [shape=(n_members,)], everywhere on a bench."""

    def __init__(
        self, bench: ExhaustBench, bore_m: float, can: Can | None, branch_k: FloatArray
    ) -> None:
        self._bench, self._bore_m, self._can = bench, bore_m, can
        gas = in_neck = exhaust_gas(branch_k)
        if can is not None:
            in_neck = exhaust_gas(branch_k + bench.neck_hotter_k)
            self._in_can_per_m = self._twice_per_m(gas, can.tube.inner_diameter_m)
            ratio = (can.tube.inner_diameter_m / bore_m) ** 2 * taken_in(gas) / taken_in(in_neck)
            self._area_ratio = ratio[:, None].astype(bench.precision)
        self._per_m = self._twice_per_m(in_neck, bore_m)
        own = taken_in(in_neck) / PRESSURE_PA * np.pi / 4.0 * bore_m**2
        self._own = own[:, None].astype(bench.precision)
        # one length on one bore is one tube, wherever it stands
        self._behind = lru_cache(maxsize=_KEPT)(self._behind_mouth)

    def admittance(self, place: int, pipe_bore_m: float, length_m: float) -> AnyComplexArray:
        """Input admittance, m3/(Pa s), [shape=(n_members, n_frequency)]."""
        taken, back, forth = self._behind(pipe_bore_m, length_m)
        met = self._bench.mouth[place] * back
        met += forth
        return np.asarray(np.divide(taken, met, out=met))

    def _twice_per_m(self, gas: Gas, bore_m: float) -> AnyComplexArray:
        per_m = duct.propagation_per_m(self._bench.frequency_hz, gas.spread(), bore_m)
        return (-2.0 * per_m).astype(self._bench.places.through.dtype)

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


def _with_one(
    admittances: list[AnyComplexArray], coupling: list[list[AnyComplexArray]]
) -> list[list[AnyComplexArray]]:
    """One plus admittance times coupling, as a matrix."""
    return [
        [y * g + 1.0 if row == column else y * g for column, g in enumerate(of_row)]
        for row, (y, of_row) in enumerate(zip(admittances, coupling, strict=True))
    ]


def least_along(values: Floats, part: BoolArray) -> Floats:
    """Least along a part of the first axis; infinite where there is none."""
    return np.asarray(values[part].min(axis=0, initial=np.inf))
