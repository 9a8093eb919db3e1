"""Try branches on a bench: the flow that they take where they join, and what is then still heard.

The network of pipes was solved once, without branches. What any of them do to it costs a
determinant of as many rows as there are branches: one plus their admittances times the pressure
that a unit of flow at one seat makes at another.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analysis.acoustics.end_correction import tee_shortening_m
from analysis.acoustics.network import Spot, determinant, power
from analysis.acoustics.two_port import AnyComplexArray
from analysis.basics.arrays import BoolArray, IntArray
from analysis.bench.outcome import Outcome
from analysis.bench.single_branch import BranchInGas
from analysis.branches import Can

if TYPE_CHECKING:
    from analysis.bench.exhaust_bench import ExhaustBench, Trials

# keeps a logarithm and a quotient finite, 200 dB down; judgement: moves no answer
SILENT = 1e-20

# judgement: places where the pipe's gas is the same within this are taken for one; it moves the
# length of a branch as hot as its pipe by 1 % at most
_SAME_GAS_K = 10.0

# Seats and single branches kept; judgement: memory against time, moves no answer.
_KEPT = 128

Floats: TypeAlias = NDArray[np.floating[Any]]
_Minors: TypeAlias = list[float | AnyComplexArray]


class Seat(NamedTuple):
    """Where a branch joins: a place, and towards which side of its axis it works there.

    ``leans`` is 1 downstream, -1 upstream, 0 where the pipe is followed to neither side.
    """

    place: int
    leans: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """How a seat is linked with what is heard, before any branch; [(n_members, n_frequency)].

    ``before`` is the pressure there over what is heard, ``heard`` what is heard of a unit of volume
    velocity put in there.
    """

    spot: Spot
    before: AnyComplexArray
    heard: AnyComplexArray


class Trier:
    """Tries branches of one bore, with this can or none, on one bench.

    Trials share most of their branches, and a walk comes by the same places again, so what was
    worked out last is kept, and what each trial does for good.
    """

    def __init__(self, bench: ExhaustBench, bore_m: float, can: Can | None) -> None:
        self.bench, self._bore_m = bench, bore_m
        self._can, self._alike = can, _places_of_one_gas(bench)
        self._in_gas = lru_cache(maxsize=None)(self._in_gas_at)
        self.link = lru_cache(maxsize=_KEPT)(self._link)
        self.admittance = lru_cache(maxsize=_KEPT)(self._admittance)
        self._between = lru_cache(maxsize=_KEPT)(self._pressure_between)
        self._minors = lru_cache(maxsize=_KEPT)(self._minors_at)
        self._least: dict[tuple[float, ...], Floats] = {}
        # drones and rest are made up of stretches of frequency, one after the other
        ends = (np.diff(bench.near, axis=1) != 0).any(axis=0)
        self._starts = np.append(0, np.flatnonzero(ends) + 1)
        self.weight = (10.0 ** (-0.1 * bench.before_db)).astype(bench.precision)
        self.hears_other_way = bool(bench.other_way.any())
        self._whole = power(1.0 + bench.other_way)

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess."""
        keys = list(map(tuple, np.hstack([trials.place, trials.length_m]).tolist()))
        new = {key: row for row, key in enumerate(keys) if key not in self._least}
        tried = trials[np.array(list(new.values()), dtype=np.int64)]
        for key, lost in zip(new, self.lost(tried), strict=True):
            # the least over each stretch is all that an outcome asks for; the curves of all
            # that a walk comes by would fill the memory
            self._least[key] = np.minimum.reduceat(lost * self.weight, self._starts, axis=-1)
        least = np.array([self._least[key] for key in keys]).transpose(2, 0, 1)
        parts = self.bench.parts[:, self._starts]
        return self.outcome_of([least_along(least, part) for part in parts])

    def outcome_of(self, least: Sequence[Floats]) -> Outcome:
        """Turn the least of the power lost over the level before into what becomes of the levels.

        ``least`` is that in each drone, then in the rest. The loudest speed may be another one
        afterwards, so the highest level is taken before and after.
        """
        *drones_db, elsewhere_db = (
            -10.0 * np.log10(after.astype(np.float64)) - self.bench.highest_db(part)
            for after, part in zip(least, self.bench.parts, strict=True)
        )
        return Outcome(
            drones_db=np.array(drones_db) + self.bench.left_out_db, elsewhere_db=elsewhere_db
        )

    def lost(self, trials: Trials) -> Iterator[Floats]:
        """Power before over after of each trial, [shape=(n_members, n_frequency)]."""
        for stations, lengths_m in zip(
            trials.place.tolist(), trials.length_m.tolist(), strict=True
        ):
            yield self._lost(stations, lengths_m)

    def _lost(self, stations: list[int], lengths_m: list[float]) -> Floats:
        seats: list[Seat] = []
        admittances: list[AnyComplexArray] = []
        for number, (station, length_m) in enumerate(zip(stations, lengths_m, strict=True)):
            for side, place in enumerate(self.bench.stations.places[station]):
                seats.append(Seat(place, self._leans(number, stations)))
                # a column of branch_k: the first and second branch, then those that mirror them
                admittances.append(self.admittance(number + 2 * side, station, side, length_m))
        coupled, passing = self._minors(tuple(seats))
        divided = _with_one(admittances, coupled)
        if passing is not None:
            divided /= _with_one(admittances, passing)
        return self._power_ratio(divided)

    def _minors_at(self, seats: tuple[Seat, ...]) -> tuple[_Minors, _Minors | None]:
        """Principal minors of what couples seats: all of it, and what passes all that is heard.

        None of the latter where all that is heard passes every seat.
        """
        coupling = [[self.between(one, other) for other in seats] for one in seats]
        if self.bench.places.is_one_way:
            return _principal_minors(coupling), None
        passing = [
            [
                np.asarray(g - self.link(one).before * self.link(other).heard)
                for other, g in zip(seats, row, strict=True)
            ]
            for one, row in zip(seats, coupling, strict=True)
        ]
        return _principal_minors(coupling), _principal_minors(passing)

    def _power_ratio(self, divided: AnyComplexArray) -> Floats:
        """Power before over after, where what comes from the outlets is divided by this."""
        if not self.hears_other_way:
            return power(divided)
        left = power(1.0 + self.bench.other_way * divided)
        return np.asarray(self._whole * power(divided) / np.maximum(left, SILENT))

    def _leans(self, number: int, stations: list[int]) -> int:
        """Say to which side of its axis a branch works: towards another one on its pipe."""
        pipe = self.bench.stations.pipe
        if len(stations) == 1 or pipe[stations[0]] != pipe[stations[1]]:
            return 0
        # in the order of the flow: the first works towards the second, and the second towards it
        return -1 if number else 1

    def _admittance(self, gas: int, station: int, side: int, length_m: float) -> AnyComplexArray:
        """Input admittance of a branch, m3/(Pa s), [shape=(n_members, n_frequency)]."""
        place = self.bench.stations.places[station][side]
        pipe_bore_m = float(self.bench.pipe_bore_m[station])
        of_any_length = self._in_gas(gas, int(self._alike[place]))
        return of_any_length.admittance(self.bench.mouth_resistance[place], pipe_bore_m, length_m)

    def _in_gas_at(self, gas: int, place: int) -> BranchInGas:
        bench = self.bench
        limit_k = np.broadcast_to(bench.pipe_k, (self._alike.size, bench.swept.size))
        branch_k = np.minimum(bench.branch_k[:, gas], limit_k[place])
        return BranchInGas(
            self._bore_m,
            self._can,
            frequency_hz=bench.frequency_hz,
            branch_k=branch_k,
            neck_k=branch_k + bench.neck_hotter_k,
            swept=bench.swept,
            precision=bench.precision,
        )

    def between(self, one: Seat, other: Seat) -> AnyComplexArray:
        """Pressure at one seat for a unit of volume velocity at another, Pa s/m3."""
        # the same from either end, as in any network of pipes: each two are worked out once
        return self._between(min(one, other), max(one, other))

    def _pressure_between(self, one: Seat, other: Seat) -> AnyComplexArray:
        return self.bench.places.between(self.link(one).spot, self.link(other).spot)

    def _link(self, seat: Seat) -> Link:
        """Half a tee away from the branch's axis where the pipe on that side is followed."""
        places, (place, leans) = self.bench.places, seat
        spot = places.spot(place, leans * self._half_tee(place) if leans else None)
        return Link(spot=spot, before=places.pressure_before(spot), heard=places.heard_from(spot))

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
    limit_k = np.broadcast_to(bench.pipe_k, (bench.places.duct.size, bench.swept.size))
    middle_k = np.median(limit_k, axis=1)
    # where the pipe is hotter than any branch the limit never counts: all those are alike
    middle_k[limit_k.min(axis=1) >= bench.branch_k.max()] = np.inf
    _, first, which = np.unique(
        np.round(middle_k / _SAME_GAS_K), return_index=True, return_inverse=True
    )
    return np.asarray(first[which], dtype=np.int64)


def _principal_minors(coupling: Sequence[Sequence[AnyComplexArray]]) -> _Minors:
    """Of every choice of seats, by the number whose bits are the chosen ones; of none it is one."""
    minors: _Minors = [1.0]
    for bits in range(1, 2 ** len(coupling)):
        chosen = [number for number in range(len(coupling)) if bits >> number & 1]
        minors.append(determinant([[coupling[row][column] for column in chosen] for row in chosen]))
    return minors


def _with_one(admittances: list[AnyComplexArray], minors: _Minors) -> AnyComplexArray:
    """Work out the determinant of one plus admittances times coupling.

    It is the sum over every choice of seats of their admittances times their minor.
    """
    for admittance in reversed(admittances):
        half = len(minors) // 2
        without, joined = minors[:half], minors[half:]
        minors = [admittance * more + of for of, more in zip(without, joined, strict=True)]
    return np.asarray(minors[0])


def least_along(values: Floats, part: BoolArray) -> Floats:
    """Least along a part of the first axis; infinite where there is none."""
    return np.asarray(values[part].min(axis=0, initial=np.inf))
