"""What a car is told to be, beside its drawing: engine, mufflers, room and gas, a row each."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator

from analysis.describe.stretches import courses_of
from analysis.exhaust.car import ROTARY, Car
from analysis.exhaust.mufflers import UNKNOWN
from analysis.words.lengths import both, diameter, length
from analysis.words.quantities import engine_name, rpm_between, temperature_both
from analysis.words.sentences import listed

Fact = tuple[str, str]
"""What it is of, and what is told."""


def engine_of(car: Car) -> str:
    """E.g. '6 cylinders, 4-stroke', or '2 rotors', which are kept as the two-stroke alike."""
    if car.layout != ROTARY:
        return engine_name(car.engine)
    return f"{car.engine.cylinders} rotor{'' if car.engine.cylinders == 1 else 's'}"


def facts_of_engine(car: Car) -> Iterator[Fact]:
    """Say what engine it is, and where it is driven."""
    engine = car.engine
    layout = "" if car.layout in (None, ROTARY) else f", {car.layout}"
    yield "Engine", f"{engine_of(car)}{layout}; order {engine.firing_order:g} when it fires evenly"
    if car.driving_range_rpm is not None:
        yield "Driven from", rpm_between(*car.driving_range_rpm)


def facts_of_exhaust(car: Car) -> Iterator[Fact]:
    """Say what a drawing does not show: mufflers that nobody knows, links, room and gas."""
    if not (car.sections or car.legs):
        yield "Exhaust", "not told: only the length of a branch can be sized, not its place"
    yield from _unknown_mufflers(car)
    for link in car.links:
        at = " and ".join(
            f"{length(m)} along {leg}" for leg, m in zip(link.between, link.at_m, strict=True)
        )
        yield "Joined", f"{link.kind} at {at}"
    yield from _room(car)
    yield from _gas(car)


def _unknown_mufflers(car: Car) -> Iterator[Fact]:
    courses = courses_of(car)
    those = [
        f"piece {each.number}{f' of {course.leg}' if len(courses) > 1 else ''}"
        for course in courses
        for each in course.stretches
        if each.section.kind.name.startswith(UNKNOWN)
    ]
    if those:
        yield "Muffler", f"{listed(those)}: what is inside is unknown, so all types count"


def _room(car: Car) -> Iterator[Fact]:
    if car.longest_branch_m is not None:
        yield "Room", f"a branch of at most {both(car.longest_branch_m)}"
    if car.widest_branch_m is not None:
        yield "Room", f"at most {diameter(car.widest_branch_m)} wide, outside"
    if car.beside_m is not None:
        yield "Room", f"{both(car.beside_m)} out from the pipe: branches are bent into it"


def _gas(car: Car) -> Iterator[Fact]:
    for where, gas in (
        ("at the collector", car.inlet_gas_k),
        ("at the tail", car.outlet_gas_k),
        ("in a branch", car.branch_gas_k),
    ):
        if gas is not None:
            ends = [temperature_both(end) for end in dict.fromkeys((gas.low, gas.high))]
            yield "Gas", f"{where} {' to '.join(ends)}"
