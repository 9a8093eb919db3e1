"""A car of any exhaust, as it truly is, and its order's level at the driver's ear."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.garage import waves
from tests.garage.gas import FloatArray
from tests.garage.waves import ComplexArray
from tests.worlds.mufflers import Spot, through_muffler
from tests.worlds.network import Net, fan_out

_STEP_M = 0.25
_BRANCH_STEPS = 8
_COLDEST_C = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A pipe, or a muffler of the kind named; ``shell_m`` is the muffler's."""

    kind: str
    length_m: float
    bore_m: float
    shell_m: float = 0.0
    packing_np_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """``feeds`` are legs upstream; ``bank`` counts from 0 where an engine feeds it."""

    name: str
    stretches: tuple[Stretch, ...]
    feeds: tuple[str, ...] = ()
    bank: int | None = None

    @property
    def length_m(self) -> float:
        """From its start to its end."""
        return sum(stretch.length_m for stretch in self.stretches)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A crossover of two legs; an X has no length."""

    legs: tuple[str, str]
    at_m: tuple[float, float]
    length_m: float = 0.0
    bore_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Welded:
    """A closed branch on a leg, with a can on a neck when ``can_bore_m`` is given."""

    leg: str
    place_m: float
    length_m: float
    bore_m: float
    can_bore_m: float | None = None
    neck_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorldCar:
    """Everything.

    ``tails`` hold gain and distance (m) from each outlet to the ear; ``modes`` of the cabin are
    (Hz, gain, q); ``structure`` is a path that no branch in the pipe changes, in the level's unit;
    ``banks`` the strength and turn of each bank's pulses.
    """

    cylinders: int
    range_rpm: tuple[float, float]
    legs: tuple[Leg, ...]
    links: tuple[Link, ...]
    banks: tuple[complex, ...]
    tails: tuple[tuple[float, float], ...]
    inlet_c: float
    outlet_c: float
    mach_at_3000: float
    echo: complex
    echo_m: float
    rise_db_per_octave: float
    modes: tuple[tuple[float, float, float], ...]
    branch_c: float
    hotter_mouth_c: float
    mouth_loss: float
    structure: complex = 0.0

    @property
    def order(self) -> float:
        """Firing order of a four-stroke engine; both banks of a V8 are in step there."""
        return self.cylinders / 2.0

    def leg(self, name: str) -> Leg:
        """Find a leg."""
        return next(leg for leg in self.legs if leg.name == name)

    def start_m(self, leg: Leg) -> float:
        """From the collector to the leg's start."""
        ways = [self.start_m(self.leg(name)) + self.leg(name).length_m for name in leg.feeds]
        return max(ways, default=0.0)

    def share(self, leg: Leg) -> float:
        """Which part of the engine's gas runs through it."""
        if leg.bank is not None:
            return 1.0 / len(self.banks)
        return sum(
            self.share(self.leg(name)) / sum(name in other.feeds for other in self.legs)
            for name in leg.feeds
        )

    def gas_c(self, from_collector_m: float) -> float:
        """Gas falls fastest where it is hottest."""
        longest_m = max(self.start_m(leg) + leg.length_m for leg in self.legs)
        part = from_collector_m / longest_m
        return self.inlet_c + (self.outlet_c - self.inlet_c) * (1.25 * part - 0.25 * part**2)

    def outlets(self) -> tuple[Leg, ...]:
        """Legs that end in open air."""
        return tuple(a for a in self.legs if not any(a.name in b.feeds for b in self.legs))


def level_db(car: WorldCar, rpm: FloatArray, branches: tuple[Welded, ...] = ()) -> FloatArray:
    """Level of the firing order at the ear, each outlet with its own phase."""
    air, structure = paths(car, rpm, branches)
    return np.asarray(20.0 * np.log10(np.abs(air + structure)))


def paths(
    car: WorldCar, rpm: FloatArray, branches: tuple[Welded, ...] = ()
) -> tuple[ComplexArray, ComplexArray]:
    """What comes through the air from the outlets, and what the body shakes."""
    hz = car.order * rpm / 60.0
    air = np.zeros(hz.size, dtype=np.complex128)
    for sound, (gain, away_m) in zip(at_outlets(car, rpm, branches), car.tails, strict=True):
        air += gain * sound * np.exp(-2j * np.pi * hz * away_m / 343.0)
    cabin = np.asarray(10.0 ** (car.rise_db_per_octave * np.log2(hz / 100.0) / 20.0), dtype=complex)
    for mode_hz, gain, q in car.modes:
        cabin *= 1.0 + gain / (1.0 + 1j * q * (hz / mode_hz - mode_hz / hz))
    shaken = car.structure * np.exp(-2j * np.pi * hz * 0.002)
    return air * cabin, np.asarray(shaken, dtype=np.complex128)


def at_outlets(
    car: WorldCar, rpm: FloatArray, branches: tuple[Welded, ...] = ()
) -> list[ComplexArray]:
    """What each outlet sends into open air: of a small source, as its flow times frequency."""
    hz = car.order * rpm / 60.0
    net = Net(hz)
    ends: dict[str, tuple[int, int]] = {leg.name: (net.node(), net.node()) for leg in car.legs}
    spots: dict[tuple[str, float], int] = {}
    for leg in car.legs:
        _lay(net, car, leg, ends[leg.name], _stops(car, leg, branches), rpm, spots)
    for leg in car.legs:
        for name in leg.feeds:
            net.join(ends[name][1], ends[leg.name][0], np.full(hz.size, 1.0 + 0j))
        if leg.bank is not None:
            _engine(net, car, leg, ends[leg.name][0])
    for link in car.links:
        here, there = (spots[key] for key in zip(link.legs, link.at_m, strict=True))
        if link.length_m:
            gas_c = car.gas_c(link.at_m[0])
            net.tube(here, there, bore_m=link.bore_m, length_m=link.length_m, gas_c=gas_c)
        else:
            net.join(here, there, np.full(hz.size, 1.0 + 0j))
    for branch in branches:
        _branch(net, car, branch, spots[branch.leg, branch.place_m], rpm)
    opens = [
        waves.radiation_impedance(hz, leg.stretches[-1].bore_m / 2.0, car.outlet_c)
        for leg in car.outlets()
    ]
    for leg, impedance in zip(car.outlets(), opens, strict=True):
        net.shunt(ends[leg.name][1], 1.0 / impedance)
    pressures = net.pressures()
    return [
        np.asarray(hz * pressures[:, ends[leg.name][1]] / impedance)
        for leg, impedance in zip(car.outlets(), opens, strict=True)
    ]


def _stops(car: WorldCar, leg: Leg, branches: tuple[Welded, ...]) -> list[float]:
    links = [
        m for link in car.links for n, m in zip(link.legs, link.at_m, strict=True) if n == leg.name
    ]
    return sorted({*links, *(b.place_m for b in branches if b.leg == leg.name)})


def _mach(car: WorldCar, leg: Leg, bore_m: float, gas_c: float, rpm: FloatArray) -> FloatArray:
    """``mach_at_3000`` is that of all the gas in a pipe of 60 mm at the collector."""
    cooler = np.sqrt((gas_c + 273.15) / (car.inlet_c + 273.15))
    size = car.mach_at_3000 * car.share(leg) * (0.06 / bore_m) ** 2 * cooler
    return np.asarray(rpm / 3000.0 * size)


def _lay(
    net: Net,
    car: WorldCar,
    leg: Leg,
    ends: tuple[int, int],
    stops: list[float],
    rpm: FloatArray,
    spots: dict[tuple[str, float], int],
) -> None:
    """Put one leg's stretches between its ends; every stop in a pipe gets a node."""
    here, at_m, base_m = ends[0], 0.0, car.start_m(leg)
    for number, stretch in enumerate(leg.stretches):
        last = number == len(leg.stretches) - 1
        gas_c = car.gas_c(base_m + at_m + stretch.length_m / 2.0)
        mach = _mach(car, leg, stretch.bore_m, gas_c, rpm)
        if stretch.kind != "pipe":
            there = ends[1] if last else net.node()
            spot = Spot(start=here, end=there, gas_c=gas_c, mach=mach)
            through_muffler(
                net,
                stretch.kind,
                spot,
                stretch.length_m,
                stretch.bore_m,
                stretch.shell_m,
                stretch.packing_np_m,
            )
            here, at_m = there, at_m + stretch.length_m
            continue
        marks = [m for m in stops if at_m <= m <= at_m + stretch.length_m]
        steps = int(np.ceil(stretch.length_m / _STEP_M))
        cuts = sorted({*marks, *(at_m + stretch.length_m * np.arange(1, steps + 1) / steps)})
        for cut in cuts:
            there = ends[1] if last and cut == cuts[-1] else net.node()
            if cut > at_m:
                local_c = car.gas_c(base_m + (at_m + cut) / 2.0)
                net.tube(
                    here,
                    there,
                    bore_m=stretch.bore_m,
                    length_m=cut - at_m,
                    gas_c=local_c,
                    mach=_mach(car, leg, stretch.bore_m, local_c, rpm),
                )
                here, at_m = there, float(cut)
            if cut in marks:
                spots[leg.name, cut] = here


def _engine(net: Net, car: WorldCar, leg: Leg, node: int) -> None:
    """A steady source behind a free echo."""
    impedance = waves.characteristic(leg.stretches[0].bore_m / 2.0, car.inlet_c)
    back = car.echo * np.exp(-4j * np.pi * (net.frequency_hz - 100.0) * car.echo_m / 530.0)
    net.shunt(node, (1.0 - back) / (1.0 + back) / impedance)
    assert leg.bank is not None
    net.drive(node, 2.0 * car.banks[leg.bank] / (1.0 + back))


def _branch(net: Net, car: WorldCar, branch: Welded, node: int, rpm: FloatArray) -> None:
    """Closed tube, hot at its mouth."""
    leg = car.leg(branch.leg)
    pipe_m, at_m = leg.stretches[0].bore_m, branch.place_m
    pipe_c = car.gas_c(car.start_m(leg) + at_m)
    longer_m = mouth_m(branch.bore_m, pipe_m)
    cap_c = min(car.branch_c, pipe_c)
    mouth_c = min(car.branch_c + car.hotter_mouth_c, pipe_c)
    mach = _mach(car, leg, pipe_m, pipe_c, rpm)
    here, there = node, net.node()
    rho_c = waves.characteristic(branch.bore_m / 2.0, mouth_c)
    resistance = np.asarray((car.mouth_loss * mach + 1e-4) * rho_c, dtype=np.complex128)
    net.join(here, there, resistance)
    here = there
    neck_m = branch.length_m if branch.can_bore_m is None else branch.neck_m
    marks = sorted({neck_m, *(branch.length_m * np.arange(1, _BRANCH_STEPS + 1) / _BRANCH_STEPS)})
    at_m = -longer_m
    for mark in marks:
        share = max((at_m + mark) / 2.0, 0.0) / branch.length_m
        gas_c = max(cap_c + (mouth_c - cap_c) * np.exp(-5.0 * share), _COLDEST_C)
        bore_m = branch.bore_m if mark <= neck_m else branch.can_bore_m or branch.bore_m
        if mark - at_m < 1e-6:
            continue
        there = net.node()
        net.tube(here, there, bore_m=bore_m, length_m=mark - at_m, gas_c=gas_c)
        here, at_m = there, float(mark)
        if branch.can_bore_m is not None and mark == neck_m:
            there = net.node()
            fan_out(net, here, there, bore_m=branch.bore_m, wide_m=branch.can_bore_m, gas_c=gas_c)
            here = there


def mouth_m(bore_m: float, pipe_m: float) -> float:
    """How much longer a branch sounds by its mouth.

    Ji, J. Sound Vib. 283 (2005) 1180, from memory.
    """
    ratio = min(bore_m / pipe_m, 1.0)
    narrow = 0.8216 - 0.0644 * ratio - 0.694 * ratio**2
    return bore_m / 2.0 * (narrow if ratio <= 0.4 else 0.9326 - 0.6196 * ratio)
