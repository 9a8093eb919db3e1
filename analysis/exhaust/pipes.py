"""From the legs and crossovers of the car file to the pipes that are worked on."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import replace

from analysis.acoustics.end_correction import junction_correction_m
from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.exhaust.firing import Firing
from analysis.exhaust.legs import Leg, Link
from analysis.exhaust.line import Crossover, ExhaustLine, Pipe
from analysis.exhaust.sections import KINDS, Section, too_narrow
from analysis.findings import Doubt
from analysis.words.lengths import millimetres

# common practice, no source: engines with more cylinders in one row are not built for cars
_MOST_IN_LINE = 6
# judgement: a tape's error on a metre or two; within it a crossover leaves both pipes at one place
_AS_FAR_M = 0.03
# judgement: natural logarithm of the ratio of two sections that still get the same branches: built
# 7 % apart, and each told 2 % wrong; and of two bores, which are of one size of tube. Of pipes
# farther apart one branch on each, at its own place, cured 10 of 10.
_NEARLY_AS_LONG, _NEARLY_AS_WIDE = 0.12, 0.05


def exhaust_line(car: Car, pipe_inner_diameter_m: float | None = None) -> ExhaustLine | None:
    """Take the exhaust out of a car file; None when it gives no sections.

    Every pipe has ``pipe_inner_diameter_m`` if it is given; mufflers keep theirs.

    Raises
    ------
    SizingError
        Two pipes alike share no room for a branch, or the pipe is wider than a muffler.
    """
    if not car.legs and not car.sections:
        return None
    line = ExhaustLine(
        pipes=_pipes(car),
        inlet_k=car.inlet_gas_k,
        outlet_k=car.outlet_gas_k,
        crossovers=tuple(_crossover(link, car.legs) for link in car.links),
        firing=Firing(
            cylinders=car.engine.cylinders,
            stroke_cycle=car.engine.stroke_cycle,
            layout=car.layout,
            firing_order=car.firing_order,
            banks=car.banks,
        ),
    )
    pipes = _beside_twins(line, _with_shared_room(_with_twins(line)))
    if pipe_inner_diameter_m is not None:
        pipes = tuple(_of_bore(pipe, pipe_inner_diameter_m) for pipe in pipes)
    return replace(line, pipes=pipes)


def _of_bore(pipe: Pipe, bore_m: float) -> Pipe:
    """Give a pipe this bore; its mufflers keep theirs."""
    sections = tuple(
        replace(part, inner_diameter_m=bore_m) if part.kind.takes_branch else part
        for part in pipe.sections
    )
    if too_narrow(sections) is not None:
        raise SizingError(
            f"the pipe's inner diameter ({millimetres(bore_m)}) leaves no room in the shell "
            "of a muffler beside it; check both"
        )
    return replace(pipe, sections=sections)


def doubts_of_pipes(car: Car) -> tuple[Doubt, ...]:
    """Ask how many pipes there are, where an engine with two banks does not say."""
    return (_HOW_MANY,) if not car.legs and _has_two_banks(car) else ()


_HOW_MANY = Doubt(
    code="how_many_pipes",
    message="How many pipes does this exhaust have? The engine has two banks, and nothing says "
    "how many there are; all that is foretold here holds for one pipe that carries all "
    "cylinders. With two pipes a branch on one of them hardly helps. Write the pipes as "
    '[[exhaust.leg]] in the car file, from = "bank 1" and from = "bank 2", or from = "all" if it '
    "is one, and size again.",
)


def _has_two_banks(car: Car) -> bool:
    if car.banks:
        return len(car.banks) > 1
    if car.layout is not None:
        return car.layout not in ("inline", "radial", "rotary")
    return car.engine.cylinders > _MOST_IN_LINE


def _pipes(car: Car) -> tuple[Pipe, ...]:
    if not car.legs:
        return (Pipe(name=None, sections=car.sections, source=0, places_m=car.places_m),)
    numbers = {leg.name: number for number, leg in enumerate(car.legs)}
    banks = _banks(car.legs)
    return tuple(
        Pipe(
            name=leg.name if len(car.legs) > 1 else None,
            sections=leg.sections,
            feeds=tuple(numbers[name] for name in leg.fed_by if name in numbers),
            source=min((banks[name] for name in leg.fed_by if name in banks), default=None),
            places_m=tuple(place.span_m for place in car.leg_places if place.leg == leg.name),
        )
        for leg in car.legs
    )


def _banks(legs: Sequence[Leg]) -> dict[str, int]:
    """Give each bank its number; those that share a pipe are one."""
    names = {leg.name for leg in legs}
    sources = [tuple(s for s in leg.fed_by if s not in names) for leg in legs]
    if any("all" in group or len(group) > 1 for group in sources):
        return {name: 0 for group in sources for name in group}
    return {name: number for number, name in enumerate(sorted({s for g in sources for s in g}))}


def _crossover(link: Link, legs: Sequence[Leg]) -> Crossover:
    numbers = {leg.name: number for number, leg in enumerate(legs)}
    first, second = link.between
    tube = None
    if link.length_m is not None and link.inner_diameter_m is not None:
        # each end of a balance pipe is a side branch to the pipe that it leaves
        longer_m = sum(
            _junction_m(legs[numbers[name]], at_m, link.inner_diameter_m)
            for name, at_m in zip(link.between, link.at_m, strict=True)
        )
        tube = Section(
            kind=KINDS["pipe"],
            length_m=link.length_m + longer_m,
            inner_diameter_m=link.inner_diameter_m,
        )
    at_m = link.at_m
    if abs(at_m[0] - at_m[1]) < _AS_FAR_M:
        at_m = (sum(at_m) / 2.0, sum(at_m) / 2.0)
    return Crossover(pipes=(numbers[first], numbers[second]), at_m=at_m, tube=tube)


def _junction_m(leg: Leg, at_m: float, bore_m: float) -> float:
    end_m = 0.0
    # a crossover at the very end of a leg joins its last section
    for section in leg.sections:
        end_m += section.length_m
        if at_m <= end_m:
            break
    return junction_correction_m(min(bore_m, section.inner_diameter_m), section.inner_diameter_m)


def _with_twins(line: ExhaustLine) -> ExhaustLine:
    """Mark each pipe that mirrors one before it: in its sections, and in all that it joins.

    Found from what is alike in itself, by striking out, until nothing changes, pairs whose feeds,
    followers or crossovers are not alike.
    """
    pipes = line.pipes
    pairs = {
        (a, b)
        for b in range(len(pipes))
        for a in range(b)
        if pipes[a].sections == pipes[b].sections
        and (pipes[a].source is None) == (pipes[b].source is None)
    }
    while wrong := {pair for pair in pairs if not _joins_alike(line, pair, pairs)}:
        pairs -= wrong
    twins: dict[int, int] = {}
    for a, b in sorted(pairs):
        # one mirror each: of three pipes alike, two are a pair and one is alone
        if a not in twins and a not in twins.values() and b not in twins:
            twins[b] = a
    return replace(
        line, pipes=tuple(replace(pipe, twin=twins.get(n)) for n, pipe in enumerate(pipes))
    )


def _beside_twins(line: ExhaustLine, pipes: tuple[Pipe, ...]) -> tuple[Pipe, ...]:
    """Say which pipes get the same branches: twins, and two pipes nearly as long.

    Two pipes that sound nearly alike each need as many branches as one pipe would. With a place and
    a length of its own for each branch, two of them on each would be too many to search.
    """
    made = [replace(pipe, beside=pipe.twin) for pipe in pipes]
    left = [n for n, pipe in enumerate(pipes) if pipe.twin is None]
    firsts = {pipe.twin for pipe in pipes}
    alone = [n for n in left if n not in firsts]
    if len(alone) != 2 or any(set(alone) & set(each.pipes) for each in line.crossovers):
        return tuple(made)
    one, other = alone
    shared = _shared_room(pipes[one], pipes[other])
    anywhere = not (pipes[one].places_m or pipes[other].places_m)
    if _nearly_alike(line, one, other) and (shared or anywhere):
        made[one] = replace(made[one], places_m=shared)
        made[other] = replace(made[other], places_m=shared, beside=one)
    return tuple(made)


def _nearly_alike(line: ExhaustLine, one: int, other: int) -> bool:
    a, b = line.pipes[one], line.pipes[other]
    return (
        (a.source is None) == (b.source is None)
        and (a.feeds, line.following(one)) == (b.feeds, line.following(other))
        and len(a.sections) == len(b.sections)
        and all(map(_nearly_like, a.sections, b.sections))
    )


def _nearly_like(one: Section, other: Section) -> bool:
    return (
        one.kind is other.kind
        and abs(math.log(one.length_m / other.length_m)) < _NEARLY_AS_LONG
        and abs(math.log(one.inner_diameter_m / other.inner_diameter_m)) < _NEARLY_AS_WIDE
    )


def _joins_alike(line: ExhaustLine, pair: tuple[int, int], pairs: set[tuple[int, int]]) -> bool:
    one, other = pair

    def match(left: Sequence[int], right: Sequence[int]) -> bool:
        return len(left) == len(right) and all(
            a == b or (min(a, b), max(a, b)) in pairs for a, b in zip(left, right, strict=True)
        )

    links = [c for c in line.crossovers if one in c.pipes or other in c.pipes]
    return (
        match(line.pipes[one].feeds, line.pipes[other].feeds)
        and match(line.following(one), line.following(other))
        and all(set(c.pipes) == {one, other} and c.at_m[0] == c.at_m[1] for c in links)
    )


def _with_shared_room(line: ExhaustLine) -> tuple[Pipe, ...]:
    """Give twins the room that both have; where one is told, the other is its mirror."""
    pipes = list(line.pipes)
    for number, pipe in enumerate(line.pipes):
        if pipe.twin is None:
            continue
        twin = pipes[pipe.twin]
        shared = twin.places_m or pipe.places_m
        if twin.places_m and pipe.places_m:
            shared = _shared_room(twin, pipe)
            if not shared:
                raise SizingError(
                    f"legs {twin.name!r} and {pipe.name!r} share no place under "
                    "[[room.place]]; the same branch must go at the same place of both"
                )
        pipes[pipe.twin] = replace(twin, places_m=shared)
        pipes[number] = replace(pipe, places_m=shared)
    return tuple(pipes)


def _shared_room(one: Pipe, other: Pipe) -> tuple[tuple[float, float], ...]:
    """Give the stretches that are told as room of both."""
    overlaps = ((max(a[0], b[0]), min(a[1], b[1])) for a in one.places_m for b in other.places_m)
    return tuple(sorted(span for span in overlaps if span[0] < span[1]))
