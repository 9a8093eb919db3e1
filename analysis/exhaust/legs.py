"""Legs of an exhaust with more than one pipe, what links them, where branches may go on them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.errors import CarError
from analysis.exhaust.car_values import bore_m, length_m, only_known, place_m, shown, tables
from analysis.exhaust.sections import PIPE, Section, read_sections

LINKS = ("x", "balance pipe")
_LONGEST_NAME = 40  # judgement: a name goes on a drawing; longer is refused
_BANK = re.compile(r"all|bank [1-9]")
# judgement: a crossover is no longer than the car is wide; a slip of unit beyond, refused.
_LINK_LENGTHS_M = (0.01, 3.0)
_ALONG_M = (0.0, 20.0)  # judgement: longer than any car's exhaust


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch of the exhaust; ``fed_by`` names "all", banks ("bank 1") or legs upstream."""

    name: str
    fed_by: tuple[str, ...]
    sections: tuple[Section, ...]

    @property
    def length_m(self) -> float:
        """From its start to its end."""
        return sum(section.length_m for section in self.sections)


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A crossover between two legs, ``at_m`` from the start of each; an X has no size."""

    kind: str
    between: tuple[str, str]
    at_m: tuple[float, float]
    length_m: float | None = None
    inner_diameter_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LegPlace:
    """Where a branch may go, (from, to) along a leg from its start."""

    leg: str
    span_m: tuple[float, float]


def read_legs(value: object, name: str) -> tuple[Leg, ...]:
    """Read ``[[exhaust.leg]]`` tables, upstream first.

    Raises
    ------
    CarError
        A name that is missing or used twice, a leg fed by nothing that stands before it.
    """
    legs: dict[str, Leg] = {}
    for which, item in tables(value, f"exhaust.{name}"):
        leg = _leg(item, which, legs)
        if leg.name in legs:
            raise CarError(f"two legs are named {leg.name!r}; give each its own name")
        legs[leg.name] = leg
    return tuple(legs.values())


def _leg(value: Mapping[str, object], which: str, before: Mapping[str, Leg]) -> Leg:
    name = value.get("name")
    # a leg named like a bank could not be told from it in "from"
    if not isinstance(name, str) or not _is_name(name) or _BANK.fullmatch(name):
        raise CarError(f'{which} of [[exhaust.leg]] needs a name, like name = "left"')
    only_known(value, ("name", "from", "like", "section"), f"leg {name!r}")
    if ("like" in value) == ("section" in value):
        raise CarError(f"leg {name!r} needs either sections of its own or like, the name of a leg")
    if "like" in value:
        sections = _named(value["like"], f"like of leg {name!r}", before).sections
    else:
        sections = read_sections(value["section"], f"leg {name!r}", "exhaust.leg.section")
    if not sections:
        raise CarError(f"leg {name!r} has no sections; write one [[exhaust.leg.section]] for each")
    return Leg(name=name, fed_by=_fed_by(value.get("from"), name, before), sections=sections)


def _is_name(text: str) -> bool:
    return bool(text.strip()) and text.isprintable() and len(text) <= _LONGEST_NAME


def _fed_by(value: object, name: str, before: Mapping[str, Leg]) -> tuple[str, ...]:
    several = value if isinstance(value, list) else [value]
    for source in several:
        if not isinstance(source, str) or not (_BANK.fullmatch(source) or source in before):
            raise CarError(
                f'from of leg {name!r} must be "all", "bank 1", "bank 2" or the name of a leg '
                f"written before it, got {shown(source)}"
            )
    if not several or len(set(several)) != len(several):
        raise CarError(
            f"from of leg {name!r} must name each of its sources once, got {shown(value)}"
        )
    return tuple(several)


def _named(value: object, what: str, legs: Mapping[str, Leg]) -> Leg:
    if not isinstance(value, str) or value not in legs:
        known = ", ".join(map(repr, legs)) or "none yet"
        raise CarError(
            f"{what} must be the name of a leg written before it ({known}), got {shown(value)}"
        )
    return legs[value]


def read_links(value: object, legs: Sequence[Leg]) -> tuple[Link, ...]:
    """Read ``[[exhaust.link]]`` tables.

    Raises
    ------
    CarError
        A link of no known kind, or not between two legs, within their lengths.
    """
    named = {leg.name: leg for leg in legs}
    return tuple(_link(item, name, named) for name, item in tables(value, "exhaust.link"))


def _link(value: Mapping[str, object], name: str, legs: Mapping[str, Leg]) -> Link:
    kind = value.get("kind")
    if not isinstance(kind, str) or kind not in LINKS:
        raise CarError(f"{name} of [[exhaust.link]] needs kind = {' or '.join(map(repr, LINKS))}")
    pipe = kind == "balance pipe"
    keys = ("kind", "between", "at", *(("length", "inner_diameter") if pipe else ()))
    only_known(value, keys, f"{name} of [[exhaust.link]], kind {kind!r},", keys)
    between, at = value["between"], value["at"]
    if not isinstance(between, list) or len(between) != 2 or between[0] == between[1]:
        raise CarError(f'between of {name} must be two legs, like ["left", "right"]')
    if not isinstance(at, list) or len(at) != 2:
        raise CarError(f'at of {name} must be two lengths, like ["0.9 m", "0.9 m"]')
    first, second = (_named(leg, f"between of {name}", legs) for leg in between)
    ends = [place_m(each, f"at of {name}", _ALONG_M) for each in at]
    for leg, end_m in zip((first, second), ends, strict=True):
        _within(leg, end_m, name)
    bore = "inner_diameter"
    return Link(
        kind=kind,
        between=(first.name, second.name),
        at_m=(ends[0], ends[1]),
        length_m=length_m(value["length"], f"length of {name}", _LINK_LENGTHS_M) if pipe else None,
        inner_diameter_m=bore_m(value[bore], f"{bore} of {name}", PIPE.inner_diameters_m)
        if pipe
        else None,
    )


def read_leg_places(value: object, legs: Sequence[Leg]) -> tuple[LegPlace, ...]:
    """Read ``[[room.place]]`` tables.

    Raises
    ------
    CarError
        A place on no leg, or not within its length.
    """
    named, made = {leg.name: leg for leg in legs}, []
    for which, item in tables(value, "room.place"):
        name = f"{which} of [[room.place]]"
        only_known(item, ("leg", "from", "to"), name)
        leg = _named(item.get("leg"), f"leg of {name}", named)
        start_m = place_m(item.get("from"), f"from of {name}", _ALONG_M)
        end_m = place_m(item.get("to"), f"to of {name}", _ALONG_M)
        if start_m >= end_m:
            raise CarError(f"{name}, on leg {leg.name!r}, must end after it starts")
        _within(leg, end_m, name)
        made.append(LegPlace(leg=leg.name, span_m=(start_m, end_m)))
    return tuple(made)


def _within(leg: Leg, end_m: float, name: str) -> None:
    # a hair more: inches do not add up to the last digit
    if end_m > leg.length_m + 1e-9:
        raise CarError(
            f"{name} reaches {end_m:.3f} m along leg {leg.name!r}, but its sections add up to "
            f"{leg.length_m:.3f} m; measure along each leg from its start"
        )
