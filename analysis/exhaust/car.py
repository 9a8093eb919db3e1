"""Read the car file: the engine, the exhaust from collector to outlet, the room for a branch."""
# SPDX-License-Identifier: GPL-2.0-or-later

import stat
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from analysis.basics.interval import Interval
from analysis.drive import MOST_CYLINDERS, Engine
from analysis.errors import CarError
from analysis.exhaust.car_toml import LARGEST_FILE_BYTES, read_toml, text_of
from analysis.exhaust.car_values import (
    length_m,
    only_known,
    optional,
    place_m,
    rpm_range,
    shown,
    table_of,
    temperature_k,
    whole_number,
)
from analysis.exhaust.legs import Leg, LegPlace, Link, read_leg_places, read_legs, read_links
from analysis.exhaust.sections import Section, read_sections
from analysis.exhaust.slips import with_line

_MOST_SECTIONS = (
    40  # of one pipe; judgement: no car has half as many. More take memory for nothing.
)
ROTARY = "rotary"
# The trade's words for how the cylinders stand: common practice, no source.
LAYOUTS = (
    "inline",
    "flat-plane V",
    "cross-plane V",
    "V (even fire)",
    "odd-fire V",
    "boxer",
    "radial",
    ROTARY,
)
_GAS_KEYS = ("inlet_gas_temperature", "outlet_gas_temperature", "branch_gas_temperature")
_ROOM_KEYS = ("places", "place", "longest_branch", "widest_branch", "beside")
_ENGINE_KEYS = (
    "cylinders",
    "rotors",
    "stroke_cycle",
    "driving_range_rpm",
    "layout",
    "firing_order",
    "banks",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Car:
    """What the car file says; everything but the engine may be missing.

    Attributes
    ----------
    inlet_gas_k, outlet_gas_k : gas temperature at the collector and at the outlet
    branch_gas_k : gas temperature inside a branch, when somebody measured it
    sections : in order, engine first; empty when unknown
    places_m : where a branch may go, (from, to) along the pipe from the collector
    widest_branch_m : outside, of a tube or can
    beside_m : how far out from the pipe's outside there is room; a branch is bent into it
    legs, links, leg_places : of an exhaust with more than one pipe, in place of the sections
    layout, firing_order, banks : how the cylinders stand, fire, and which of them feed which pipe
    """

    engine: Engine
    driving_range_rpm: tuple[float, float] | None = None
    inlet_gas_k: Interval | None = None
    outlet_gas_k: Interval | None = None
    branch_gas_k: Interval | None = None
    sections: tuple[Section, ...] = ()
    places_m: tuple[tuple[float, float], ...] = ()
    longest_branch_m: float | None = None
    widest_branch_m: float | None = None
    beside_m: float | None = None
    legs: tuple[Leg, ...] = ()
    links: tuple[Link, ...] = ()
    leg_places: tuple[LegPlace, ...] = ()
    layout: str | None = None
    firing_order: tuple[int, ...] = ()
    banks: tuple[tuple[int, ...], ...] = ()

    @property
    def pipe_length_m(self) -> float:
        """From the collector to the outlet; zero when the sections are unknown."""
        return sum(section.length_m for section in self.sections)


def read_car(path: Path) -> Car:
    """Read a car file (TOML, UTF-8).

    Raises
    ------
    CarError
        The file cannot be read, is not TOML, has an unknown key or an impossible size.
    """
    return _read(path)[0]


def read_car_table(path: Path) -> dict[str, object]:
    """Read a car file as plain data for a session to keep; checked as :func:`read_car` does.

    Raises
    ------
    CarError
        As :func:`read_car`.
    """
    return _read(path)[1]


def read_car_text(data: bytes) -> tuple[Car, dict[str, object]]:
    """Read the content of a car file: as a car, and as plain data.

    Raises
    ------
    CarError
        As :func:`read_car`; the line is named where it is known.
    """
    table = read_toml(data)
    try:
        return parse_car(table), table
    except CarError as error:
        raise CarError(with_line(text_of(data), str(error))) from error


def parse_car(data: Mapping[str, object]) -> Car:
    """Check a car file's content, already parsed from TOML or from a session.

    Raises
    ------
    CarError
        An unknown key (named, with the nearest known one), a missing or impossible value.
    """
    only_known(data, ("engine", "exhaust", "room"), "the top level")
    engine = table_of(data, "engine", _ENGINE_KEYS)
    exhaust = table_of(data, "exhaust", (*_GAS_KEYS, "section", "leg", "link"))
    room = table_of(data, "room", _ROOM_KEYS)
    legs = optional(exhaust, "leg", read_legs) or ()
    motor = _engine(engine)
    car = Car(
        engine=motor,
        driving_range_rpm=optional(engine, "driving_range_rpm", rpm_range),
        inlet_gas_k=optional(exhaust, _GAS_KEYS[0], temperature_k),
        outlet_gas_k=optional(exhaust, _GAS_KEYS[1], temperature_k),
        branch_gas_k=optional(exhaust, _GAS_KEYS[2], temperature_k),
        sections=read_sections(exhaust.get("section", []), "", "exhaust.section"),
        places_m=optional(room, "places", _places) or (),
        longest_branch_m=optional(room, "longest_branch", partial(length_m, limits_m=(0.05, 6.0))),
        widest_branch_m=optional(room, "widest_branch", partial(length_m, limits_m=(0.02, 0.3))),
        beside_m=optional(room, "beside", partial(length_m, limits_m=(0.02, 3.0))),
        legs=legs,
        links=read_links(exhaust.get("link", []), legs),
        leg_places=read_leg_places(room.get("place", []), legs),
        layout=ROTARY if "rotors" in engine else optional(engine, "layout", _layout),
        firing_order=_each_once(engine.get("firing_order", []), "firing_order", motor.cylinders),
        banks=_banks(engine.get("banks", []), motor.cylinders),
    )
    _check_whole(car)
    return car


def _check_whole(car: Car) -> None:
    for pipe in (car.sections, *(leg.sections for leg in car.legs)):
        if len(pipe) > _MOST_SECTIONS:
            raise CarError(
                f"an exhaust of {len(pipe)} sections is not known here; at most {_MOST_SECTIONS} a "
                "pipe: write pieces of one inner diameter as one section"
            )
    if car.legs and (car.sections or car.places_m):
        raise CarError(
            "the exhaust is written in legs and as one pipe too; with [[exhaust.leg]] write its "
            "sections as [[exhaust.leg.section]] and its places as [[room.place]]"
        )
    inlet, outlet = car.inlet_gas_k, car.outlet_gas_k
    if inlet and outlet and outlet.high > inlet.high:
        raise CarError(
            "outlet_gas_temperature is above inlet_gas_temperature, but exhaust gas cools on its "
            "way; the inlet is the collector, the outlet the tail pipe"
        )
    for start_m, end_m in car.places_m:
        if car.sections and end_m > car.pipe_length_m + 1e-9:
            raise CarError(
                f"a place ends {end_m:.3f} m from the collector, but the sections add up to "
                f"{car.pipe_length_m:.3f} m; measure places along the pipe from the collector "
                f"(the place starts at {start_m:.3f} m)"
            )


def _engine(table: Mapping[str, object]) -> Engine:
    if "rotors" in table:
        return _rotary(table)
    if "cylinders" not in table:
        raise CarError("[engine] needs cylinders, e.g. cylinders = 4")
    if table.get("layout") == ROTARY and "stroke_cycle" not in table:
        raise CarError("a rotary engine is written with rotors = 2 in place of cylinders")
    counts = range(1, MOST_CYLINDERS + 1)
    cylinders = whole_number(table["cylinders"], "cylinders", counts, f"1 to {MOST_CYLINDERS}")
    cycle = whole_number(table.get("stroke_cycle", 4), "stroke_cycle", (2, 4), "2 or 4")
    return Engine(cylinders=cylinders, stroke_cycle=cycle)


def _rotary(table: Mapping[str, object]) -> Engine:
    """Take a rotary engine as the two-stroke that fires alike.

    Each rotor fires once in a turn of its shaft: Heywood (1988), from memory.
    """
    if "cylinders" in table or "stroke_cycle" in table:
        raise CarError("rotors stands in place of cylinders and stroke_cycle; leave those out")
    if table.get("layout", ROTARY) != ROTARY:
        raise CarError(f'only layout = "{ROTARY}" has rotors; leave one of the two out')
    rotors = whole_number(table["rotors"], "rotors", range(1, 7), "1 to 6")
    return Engine(cylinders=rotors, stroke_cycle=2)


def _layout(value: object, name: str) -> str:
    if not isinstance(value, str) or value not in LAYOUTS:
        raise CarError(f"{name} must be one of {', '.join(LAYOUTS)}, got {shown(value)}")
    return value


def _banks(value: object, cylinders: int) -> tuple[tuple[int, ...], ...]:
    if not isinstance(value, list) or not all(isinstance(bank, list) and bank for bank in value):
        raise CarError(f"banks must be lists like [[1, 2], [3, 4]], got {shown(value)}")
    _each_once([cylinder for bank in value for cylinder in bank], "banks", cylinders)
    return tuple(tuple(bank) for bank in value)


def _each_once(value: object, name: str, cylinders: int) -> tuple[int, ...]:
    """Take numbers of cylinders, each once; none at all when nobody says."""
    if not isinstance(value, list):
        raise CarError(f"{name} must be a list of the cylinders' numbers, got {shown(value)}")
    whole = [number for number in value if isinstance(number, int) and not isinstance(number, bool)]
    if value and (whole != value or sorted(whole) != list(range(1, cylinders + 1))):
        raise CarError(
            f"{name} must name each of cylinders 1 to {cylinders} once, got {shown(value)}"
        )
    return tuple(whole)


def _places(value: object, name: str) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list):
        raise CarError(f'{name} must be a list like [["0.3 m", "2.2 m"]]')
    return tuple(_place(item, f"place {number}") for number, item in enumerate(value, start=1))


def _place(value: object, name: str) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise CarError(f'{name} must have a start and an end, like ["0.3 m", "2.2 m"]')
    start_m = place_m(value[0], f"start of {name}", (0.0, 20.0))
    end_m = length_m(value[1], f"end of {name}", (0.0, 20.0))
    if start_m >= end_m:
        raise CarError(f"{name} must end after it starts, got {value[0]!r} to {value[1]!r}")
    return start_m, end_m


def _read(path: Path) -> tuple[Car, dict[str, object]]:
    name = f"car file {str(path)!r}"
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a device or a pipe may never end
            raise CarError(f"cannot read the {name}: it is not a regular file")
        with path.open("rb") as file:
            # one more than allowed tells that there is more, and never takes more
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        reason = error.strerror or "unknown trouble"
        raise CarError(f"cannot read the {name}: {reason}") from error
    try:
        return read_car_text(data)
    except CarError as error:
        raise CarError(f"{name}: {error}") from error
