"""Where each piece of the exhaust begins and ends: the running totals of each pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from analysis.exhaust.car import Car
from analysis.exhaust.legs import Leg
from analysis.exhaust.mufflers import UNKNOWN
from analysis.exhaust.sections import Section
from analysis.words.sentences import listed

_WHOLE = "From the collector to the tail"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One piece, from where to where along its pipe."""

    number: int
    section: Section
    start_m: float

    @property
    def end_m(self) -> float:
        """Where it ends, and the next one begins."""
        return self.start_m + self.section.length_m

    @property
    def name(self) -> str:
        """What it is."""
        return self.section.kind.name.removeprefix(f"{UNKNOWN} ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One pipe from its start to its end.

    Attributes
    ----------
    title : what a picture of it is headed with
    leg : its name in the car file; "pipe" where it is the only one
    places_m : where a branch may go along it
    joined_m : where a link to another pipe is, with its kind
    """

    title: str
    leg: str
    stretches: tuple[Stretch, ...]
    places_m: tuple[tuple[float, float], ...] = ()
    joined_m: tuple[tuple[float, str], ...] = ()

    @property
    def length_m(self) -> float:
        """From its start to its end."""
        return self.stretches[-1].end_m

    def is_as(self, other: "Course") -> bool:
        """Whether all that is told of it was told of another one, and no room is told of it."""
        return self.stretches == other.stretches and self.places_m in ((), other.places_m)


def courses_of(car: Car) -> tuple[Course, ...]:
    """Give every pipe of a car, in the order of the flow; none where no pieces are told."""
    if car.sections:
        return (
            Course(
                title=_WHOLE, leg="pipe", stretches=_laid_out(car.sections), places_m=car.places_m
            ),
        )
    return tuple(_of_leg(car, leg) for leg in car.legs)


def _of_leg(car: Car, leg: Leg) -> Course:
    fed_by = "all cylinders" if leg.fed_by == ("all",) else listed(leg.fed_by)
    joined = tuple(
        (at_m, link.kind)
        for link in car.links
        for name, at_m in zip(link.between, link.at_m, strict=True)
        if name == leg.name
    )
    return Course(
        title=_WHOLE if len(car.legs) == 1 else f"{leg.name}, from {fed_by}",
        leg=leg.name,
        stretches=_laid_out(leg.sections),
        places_m=tuple(place.span_m for place in car.leg_places if place.leg == leg.name),
        joined_m=joined,
    )


def _laid_out(sections: Sequence[Section]) -> tuple[Stretch, ...]:
    starts_m = accumulate((section.length_m for section in sections), initial=0.0)
    return tuple(
        Stretch(number=number, section=section, start_m=start_m)
        for number, (section, start_m) in enumerate(zip(sections, starts_m, strict=False), start=1)
    )
