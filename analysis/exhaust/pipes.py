"""How many pipes an exhaust has, and which of them is worked out.

Two pipes alike, a bank on each and nothing between them, pass on the same share of what their banks
send, whatever the phase between the banks: the flows at both outlets change by the same factor when
the same branch is put at the same place of each. So one of them stands for both, exactly.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.errors import NotYetSizedError, SizingError
from analysis.exhaust.car import Car
from analysis.exhaust.legs import Leg
from analysis.exhaust.sections import Section
from analysis.findings import Doubt

# common practice, no source: engines with more cylinders in one row are not built for cars
_MOST_IN_LINE = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipes:
    """The pipe to work out, the room along it, the legs it stands for; none of one pipe."""

    sections: tuple[Section, ...]
    places_m: tuple[tuple[float, float], ...]
    legs: tuple[str, ...] = ()


def pipes_of(car: Car) -> Pipes | None:
    """Give the pipe that stands for all; None when the car file gives no exhaust.

    Raises
    ------
    NotYetSizedError
        The legs are neither one pipe nor two alike with nothing between them.
    """
    if not car.legs:
        return Pipes(sections=car.sections, places_m=car.places_m) if car.sections else None
    first = car.legs[0]
    names = tuple(leg.name for leg in car.legs)
    if len(names) == 1 and first.fed_by == ("all",):
        return Pipes(sections=first.sections, places_m=_spans(car, first.name))
    if not _are_alike(car.legs):
        raise _cannot("its legs are not two pipes alike, one from each bank")
    if car.links:
        raise _cannot(f"its legs are linked (kind = {car.links[0].kind!r})")
    return Pipes(sections=first.sections, places_m=_on_both(car, names), legs=names)


def doubts_of_pipes(car: Car) -> tuple[Doubt, ...]:
    """Ask how many pipes there are where it is not said, and say that each needs its branch."""
    if not car.legs:
        return (_HOW_MANY,) if _has_two_banks(car) else ()
    pipes = pipes_of(car)
    if pipes is None or not pipes.legs:
        return ()
    names = " and one on ".join(pipes.legs)
    return (
        Doubt(
            code="one_on_each_pipe",
            message=f"Build it twice, one on each pipe: one on {names}, at the same place of each, "
            "with twice the material. On one pipe alone it leaves the drone of the other as it is.",
        ),
    )


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


def _are_alike(legs: tuple[Leg, ...]) -> bool:
    if len(legs) != 2 or legs[0].sections != legs[1].sections:
        return False
    return {leg.fed_by for leg in legs} == {("bank 1",), ("bank 2",)}


def _cannot(why: str) -> NotYetSizedError:
    return NotYetSizedError(
        f"this exhaust cannot be sized yet: {why}; one pipe, or two pipes alike with nothing "
        'between them (like = "left"), can'
    )


def _spans(car: Car, leg: str) -> tuple[tuple[float, float], ...]:
    return tuple(place.span_m for place in car.leg_places if place.leg == leg)


def _on_both(car: Car, names: tuple[str, ...]) -> tuple[tuple[float, float], ...]:
    """Room that both pipes have; where only one is told, the other is taken to be its mirror."""
    told = [spans for name in names if (spans := _spans(car, name))]
    if len(told) < 2:
        return told[0] if told else ()
    shared = [
        (max(one[0], other[0]), min(one[1], other[1])) for one in told[0] for other in told[1]
    ]
    common = tuple(sorted(span for span in shared if span[0] < span[1]))
    if not common:
        raise SizingError(
            f"legs {names[0]!r} and {names[1]!r} share no place under [[room.place]]; the same "
            "branch must go at the same place of both"
        )
    return common
