"""Draw a car of a named world until it drones; ranges are common practice, no source."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.garage.drone import (
    BIN_RATIO,
    Change,
    Drone,
    Measured,
    grid,
    in_cruise,
    nearness,
    noise_db,
    read_off,
    worst,
)
from tests.garage.gas import FloatArray
from tests.worlds.cars import Leg, Link, Stretch, Welded, WorldCar, level_db, paths

_FINE = 1.005
_TRIES = 4000
_TWO_APART = 1.25  # peaks of two drones, ratio of engine speeds; nearer ones are one stretch
_TWO_WITHIN_DB = 8.0  # the second one is so little below the worst


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """What is special about its cars; ``told`` keys are read by ``tests/worlds/told.py``."""

    name: str
    shape: str = "one pipe"
    muffler: str = "chamber"
    is_told: bool = True  # the muffler's kind
    hidden_resonator: bool = False
    shaken: float = 0.0  # structure-borne share of the drone's energy
    by_cabin: bool = False
    hot_branch: bool = False
    drones: int = 1
    slipped: int | None = None  # which stretch of each leg was measured half a metre wrong
    tail_heard: bool = False  # with a second microphone, see ``tests/worlds/tail_microphone.py``
    same_cars_as: str = ""  # another world, so that both can be laid side by side

    @property
    def drawn_by(self) -> list[int]:
        """What the world adds to a seed."""
        return list((self.same_cars_as or self.name).encode())


WORLDS = (
    World(name="one pipe"),
    World(name="V8, two pipes", shape="two pipes"),
    World(name="V8, balance pipe", shape="balance pipe"),
    World(name="V8, X", shape="x"),
    World(name="V8, unlike pipes", shape="unlike pipes"),
    World(name="one into two", shape="one into two"),
    World(name="two into one", shape="two into one"),
    *(
        World(name=f"{kind}, {'told' if told else 'not told'}", muffler=kind, is_told=told)
        for kind in ("straight-through", "three-pass", "chambered", "resonator")
        for told in (True, False)
    ),
    World(name="resonator left out", hidden_resonator=True),
    World(name="structure 5 %", shaken=0.05),
    World(name="structure 20 %", shaken=0.20),
    World(name="cabin mode", by_cabin=True),
    World(name="hot branch", hot_branch=True),
    World(name="tape slips", slipped=0),
    World(name="tail pipe slips", slipped=-1),
    World(name="two drones", drones=2),
    World(name="two drones, V8, two pipes", shape="two pipes", drones=2),
)
WORLDS += tuple(
    replace(world, name=f"{world.name}, tail heard", tail_heard=True, same_cars_as=world.name)
    for world in WORLDS
    if world.name in ("one pipe", "structure 5 %", "structure 20 %", "cabin mode")
)


def droning_car(world: World, rng: np.random.Generator) -> tuple[WorldCar, tuple[Drone, ...]]:
    """Draw cars until one has a drone, or as many as the world's cars have; the worst first.

    Raises
    ------
    RuntimeError
        None of many drones.
    """
    for _ in range(_TRIES):
        car = draw_car(world, rng)
        drone = drone_of(car)
        if world.by_cabin:
            car, drone = _with_mode(car, drone, rng)
        if drone is None:
            continue
        if world.shaken:
            car = _shaken(car, drone, world.shaken, rng)
            drone = drone_of(car)
        drones = () if drone is None else (drone, *_beside(car, drone))[: world.drones]
        if len(drones) == world.drones:
            return car, drones
    raise RuntimeError(f"no car of {world.name} drones")


def _beside(car: WorldCar, drone: Drone) -> list[Drone]:
    """Other drones nearly as bad, the worse first."""
    rpm = grid(car.range_rpm, _FINE)
    others = [
        each
        for each in in_cruise(rpm, level_db(car, rpm), car.order)
        if abs(np.log(each.peak_rpm / drone.peak_rpm)) > np.log(_TWO_APART)
        and each.rise_db > drone.rise_db - _TWO_WITHIN_DB
    ]
    return sorted(others, key=lambda each: each.rise_db, reverse=True)


def draw_car(world: World, rng: np.random.Generator) -> WorldCar:
    """Draw one car, droning or not."""
    two = world.shape in ("two pipes", "balance pipe", "x", "unlike pipes", "two into one")
    cylinders = 8 if two else int(rng.choice([4, 6, 8]))
    legs, links = _legs(world, rng, two)
    branch_c = rng.uniform(230.0, 400.0) if world.hot_branch else rng.uniform(60.0, 220.0)
    outlets = 1 if world.shape in ("one pipe", "two into one") else 2
    banks: tuple[complex, ...] = (1.0 + 0.0j,)
    if two:
        uneven = rng.uniform(0.9, 1.1) * np.exp(1j * rng.uniform(-0.15, 0.15))
        banks = (0.5 + 0.0j, complex(0.5 * uneven))
    return WorldCar(
        cylinders=cylinders,
        range_rpm=(float(rng.uniform(1100, 1400)), float(rng.uniform(3300, 4200))),
        legs=legs,
        links=links,
        banks=banks,
        tails=tuple((1.0, float(rng.uniform(2.0, 3.0))) for _ in range(outlets)),
        inlet_c=float(rng.uniform(380.0, 560.0)),
        outlet_c=float(rng.uniform(150.0, 260.0)),
        mach_at_3000=float(rng.uniform(0.04, 0.10)),
        echo=complex(rng.uniform(0.0, 0.9) * np.exp(1j * rng.uniform(-np.pi, np.pi))),
        echo_m=float(rng.uniform(0.1, 0.6)),
        rise_db_per_octave=float(rng.uniform(-5.0, 1.0)),
        modes=((float(rng.uniform(40, 300)), float(rng.uniform(-0.15, 0.2)), 5.0),),
        branch_c=float(branch_c),
        hotter_mouth_c=float(rng.uniform(0.0, 120.0)),
        mouth_loss=float(rng.uniform(0.3, 1.0)),
    )


def _legs(
    world: World, rng: np.random.Generator, two: bool
) -> tuple[tuple[Leg, ...], tuple[Link, ...]]:
    bore_m = float(rng.uniform(0.050, 0.063) if two else rng.uniform(0.045, 0.076))
    front = Stretch(kind="pipe", length_m=float(rng.uniform(0.9, 2.4)), bore_m=bore_m)
    muffler = _muffler(world.muffler, bore_m, rng)
    tail = Stretch(kind="pipe", length_m=float(rng.uniform(0.6, 1.8)), bore_m=bore_m)
    if world.hidden_resonator:
        half = replace(front, length_m=front.length_m / 2.0)
        hiding = (half, _muffler("resonator", bore_m, rng), half, muffler, tail)
        return (Leg(name="pipe", stretches=hiding, bank=0),), ()
    whole = (front, muffler, tail)
    if world.shape == "one pipe":
        return (Leg(name="pipe", stretches=whole, bank=0),), ()
    if world.shape == "one into two":
        thin_m = bore_m / float(np.sqrt(2.0))
        behind = (replace(tail, bore_m=thin_m),)
        longer = (
            replace(tail, bore_m=thin_m, length_m=tail.length_m + float(rng.uniform(0, 0.3))),
        )
        return (
            Leg(name="front", stretches=(front, muffler), bank=0),
            Leg(name="left tail", stretches=behind, feeds=("front",)),
            Leg(name="right tail", stretches=longer, feeds=("front",)),
        ), ()
    if world.shape == "two into one":
        wide = Stretch(kind="pipe", length_m=0.5, bore_m=1.25 * bore_m)
        back = (wide, _muffler(world.muffler, wide.bore_m, rng), replace(tail, bore_m=wide.bore_m))
        return (
            Leg(name="left", stretches=(front,), bank=0),
            Leg(name="right", stretches=(front,), bank=1),
            Leg(name="rear", stretches=back, feeds=("left", "right")),
        ), ()
    if world.shape == "unlike pipes":
        other = tuple(
            replace(stretch, length_m=stretch.length_m * float(rng.uniform(0.93, 1.07)))
            for stretch in whole
        )
        return (
            Leg(name="left", stretches=whole, bank=0),
            Leg(name="right", stretches=other, bank=1),
        ), ()
    at_m = float(rng.uniform(0.3, 0.9) * front.length_m)
    links = {
        "two pipes": (),
        "balance pipe": (
            Link(legs=("left", "right"), at_m=(at_m, at_m), length_m=0.3, bore_m=0.8 * bore_m),
        ),
        "x": (Link(legs=("left", "right"), at_m=(at_m, at_m)),),
    }[world.shape]
    legs = tuple(Leg(name=n, stretches=whole, bank=b) for b, n in enumerate(("left", "right")))
    return legs, links


def _muffler(kind: str, bore_m: float, rng: np.random.Generator) -> Stretch:
    small = kind == "resonator"
    packed = kind in ("chamber", "straight-through", "resonator")
    shell_m = (
        rng.uniform(1.6, 2.0) * bore_m if small else max(rng.uniform(0.14, 0.20), 2.4 * bore_m)
    )
    return Stretch(
        kind=kind,
        length_m=float(rng.uniform(0.20, 0.35) if small else rng.uniform(0.35, 0.60)),
        bore_m=bore_m,
        shell_m=float(shell_m),
        packing_np_m=float(rng.uniform(0.0, 0.8)) if packed else 0.0,
    )


def _with_mode(
    car: WorldCar, drone: Drone | None, rng: np.random.Generator
) -> tuple[WorldCar, Drone | None]:
    """A cabin mode that alone makes a drone; cars that drone without it are passed over."""
    if drone is not None:
        return car, None
    hz = float(rng.uniform(60.0, 140.0))
    mode = (hz, float(rng.uniform(2.0, 4.0)), float(rng.uniform(6.0, 12.0)))
    humming = replace(car, modes=(*car.modes, mode))
    heard = drone_of(humming)
    is_its = heard is not None and abs(np.log(heard.peak_rpm / 60.0 * car.order / hz)) < 0.06
    return humming, heard if is_its else None


def _shaken(car: WorldCar, drone: Drone, share: float, rng: np.random.Generator) -> WorldCar:
    air, _ = paths(car, np.array([drone.peak_rpm]))
    size = abs(air[0]) * np.sqrt(share / (1.0 - share))
    return replace(car, structure=complex(size * np.exp(1j * rng.uniform(-np.pi, np.pi))))


def drone_of(car: WorldCar) -> Drone | None:
    """Worst peak of the firing order in cruise that stands 6 dB clear."""
    rpm = grid(car.range_rpm, _FINE)
    return worst(rpm, level_db(car, rpm), car.order)


def measure(car: WorldCar, heard: tuple[Drone, ...], rng: np.random.Generator) -> Measured | None:
    """One drive, noise and all; None when noise hides a drone."""
    rpm = grid(car.range_rpm, BIN_RATIO)
    noisy_db = level_db(car, rpm) + noise_db(rpm.size, rng)
    read = [read_off(rpm, noisy_db, each) for each in heard]
    told = [each for each in read if each is not None]
    if len(told) < len(read):
        return None
    return replace(told[0], others=tuple(each.drone for each in told[1:]))


def changes(
    car: WorldCar, drones: tuple[Drone, ...], branches: tuple[Welded, ...]
) -> tuple[Change, ...]:
    """Highest level in each drone's stretch and in the rest, after minus before."""
    rpm = grid(car.range_rpm, _FINE)
    before, after = level_db(car, rpm), level_db(car, rpm, branches)
    near = np.array([nearness(rpm, drone) for drone in drones])
    rest = ~near.any(axis=0)
    elsewhere_db = float(after[rest].max() - before[rest].max())
    return tuple(
        Change(
            drone_db=float(after[here].max() - before[here].max()),
            elsewhere_db=elsewhere_db,
            mean_db=_mean_db(after, rpm, drone) - _mean_db(before, rpm, drone),
        )
        for drone, here in zip(drones, near, strict=True)
    )


def _mean_db(level: FloatArray, rpm: FloatArray, drone: Drone) -> float:
    """Mean square over the drone's band."""
    inside = (rpm >= drone.low_rpm) & (rpm <= drone.high_rpm)
    return float(10.0 * np.log10(np.mean(10.0 ** (0.1 * level[inside]))))
