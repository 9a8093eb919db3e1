"""Read the car file: the engine, the exhaust from collector to outlet, the room for a branch."""
# SPDX-License-Identifier: GPL-2.0-or-later

import difflib
import stat
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from analysis.basics.interval import Interval
from analysis.basics.units import parse_length_m, parse_temperature_range_k
from analysis.drive import MOST_CYLINDERS, Engine
from analysis.errors import CarError, QuantityError

_LARGEST_FILE_BYTES = 1_000_000  # judgement: a car file has a few thousand; larger is refused
# judgement: no car has pipes or speeds beyond; such a value is a slip of unit and refused.
_SECTION_LENGTHS_M = (0.01, 15.0)
_RPM = (100.0, 20_000.0)
_ZERO = (["0", "m"], ["0", "mm"], ["0", "in"])

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionKind:
    """What one kind of section does.

    Attributes
    ----------
    inner_diameters_m : smallest and largest that the car file may give
    takes_branch : whether a branch can be welded onto it
    may_be_packed : whether packing may damp and slow the wave in it
    """

    inner_diameters_m: tuple[float, float]
    takes_branch: bool
    may_be_packed: bool


# The kinds of section that an exhaust is made of; a new kind of muffler goes in here.
# judgement: diameters from a moped's pipe to a lorry's muffler; beyond them a unit was mistyped.
_PIPE = SectionKind(inner_diameters_m=(0.010, 0.200), takes_branch=True, may_be_packed=False)
_CHAMBER = SectionKind(inner_diameters_m=(0.010, 0.800), takes_branch=False, may_be_packed=True)

KINDS = {
    "pipe": _PIPE,
    "muffler": _CHAMBER,  # seen as an empty or packed expansion chamber
    "chamber": _CHAMBER,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One piece of the exhaust, of one of the ``KINDS``."""

    kind: SectionKind
    length_m: float
    inner_diameter_m: float


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


def parse_car(data: Mapping[str, object]) -> Car:
    """Check a car file's content, already parsed from TOML or from a session.

    Raises
    ------
    CarError
        An unknown key (named, with the nearest known one), a missing or impossible value.
    """
    _known(data, ("engine", "exhaust", "room"), "the top level")
    engine = _table(data, "engine", ("cylinders", "stroke_cycle", "driving_range_rpm"))
    gas = ("inlet_gas_temperature", "outlet_gas_temperature", "branch_gas_temperature")
    exhaust = _table(data, "exhaust", (*gas, "section"))
    room = _table(data, "room", ("places", "longest_branch", "widest_branch"))
    car = Car(
        engine=_engine(engine),
        driving_range_rpm=_optional(engine, "driving_range_rpm", _rpm_range),
        inlet_gas_k=_optional(exhaust, gas[0], _temperature),
        outlet_gas_k=_optional(exhaust, gas[1], _temperature),
        branch_gas_k=_optional(exhaust, gas[2], _temperature),
        sections=_optional(exhaust, "section", _sections) or (),
        places_m=_optional(room, "places", _places) or (),
        longest_branch_m=_optional(room, "longest_branch", partial(_length, limits_m=(0.05, 6.0))),
        widest_branch_m=_optional(room, "widest_branch", partial(_length, limits_m=(0.02, 0.3))),
    )
    _check_whole(car)
    return car


def _check_whole(car: Car) -> None:
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
    if "cylinders" not in table:
        raise CarError("[engine] needs cylinders, e.g. cylinders = 4")
    counts = range(1, MOST_CYLINDERS + 1)
    cylinders = _whole_number(table["cylinders"], "cylinders", counts, f"1 to {MOST_CYLINDERS}")
    cycle = _whole_number(table.get("stroke_cycle", 4), "stroke_cycle", (2, 4), "2 or 4")
    return Engine(cylinders=cylinders, stroke_cycle=cycle)


def _sections(value: object, name: str) -> tuple[Section, ...]:
    if not isinstance(value, list):
        raise CarError(f"{name} must be written as [[exhaust.section]] tables")
    return tuple(_section(item, f"section {number}") for number, item in enumerate(value, start=1))


def _section(value: object, name: str) -> Section:
    if not isinstance(value, dict):
        raise CarError(f"{name} must be a table, written under [[exhaust.section]]")
    _known(value, ("kind", "length", "inner_diameter"), f"{name} of [[exhaust.section]]")
    for key in ("kind", "length", "inner_diameter"):
        if key not in value:
            raise CarError(f"{name} of [[exhaust.section]] lacks {key}")
    kind = value["kind"]
    if not isinstance(kind, str) or kind not in KINDS:
        known = " or ".join(map(repr, KINDS))
        raise CarError(f"kind of {name} must be {known}, got {kind!r}")
    return Section(
        kind=KINDS[kind],
        length_m=_length(value["length"], f"length of {name}", _SECTION_LENGTHS_M),
        inner_diameter_m=_length(
            value["inner_diameter"], f"inner_diameter of {name}", KINDS[kind].inner_diameters_m
        ),
    )


def _places(value: object, name: str) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list):
        raise CarError(f'{name} must be a list like [["0.3 m", "2.2 m"]]')
    return tuple(_place(item, f"place {number}") for number, item in enumerate(value, start=1))


def _place(value: object, name: str) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise CarError(f'{name} must have a start and an end, like ["0.3 m", "2.2 m"]')
    at_collector = isinstance(value[0], str) and value[0].split() in _ZERO
    start_m = 0.0 if at_collector else _length(value[0], f"start of {name}", (0.0, 20.0))
    end_m = _length(value[1], f"end of {name}", (0.0, 20.0))
    if start_m >= end_m:
        raise CarError(f"{name} must end after it starts, got {value[0]!r} to {value[1]!r}")
    return start_m, end_m


def _length(value: object, name: str, limits_m: tuple[float, float]) -> float:
    length_m = _quantity(value, name, parse_length_m, "63.5 mm")
    if not limits_m[0] <= length_m <= limits_m[1]:
        raise CarError(
            f"{name} is {value!r}; it must be {1e3 * limits_m[0]:g} to {1e3 * limits_m[1]:g} mm, "
            "check the number and the unit"
        )
    return length_m


def _temperature(value: object, name: str) -> Interval:
    return _quantity(value, name, parse_temperature_range_k, "250 degC")


def _quantity(value: object, name: str, parse: Callable[[str], _T], example: str) -> _T:
    if not isinstance(value, str):
        raise CarError(f'{name} must be text with a unit, like "{example}", got {value!r}')
    try:
        return parse(value)
    except QuantityError as error:
        raise CarError(f"{name}: {error}") from error


def _rpm_range(value: object, name: str) -> tuple[float, float]:
    if (
        not isinstance(value, list)
        or len(value) != 2
        or not all(isinstance(end, int | float) and not isinstance(end, bool) for end in value)
    ):
        raise CarError(f"{name} must be two numbers like [1200, 3600], got {value!r}")
    low, high = float(value[0]), float(value[1])
    if not _RPM[0] <= low < high <= _RPM[1]:
        raise CarError(
            f"{name} must rise and lie between {_RPM[0]:g} and {_RPM[1]:g} rpm, got {value!r}"
        )
    return low, high


def _whole_number(value: object, name: str, allowed: Iterable[int], text: str) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value not in allowed:
        raise CarError(f"{name} must be {text}, got {value!r}")
    return value


def _table(data: Mapping[str, object], name: str, known: tuple[str, ...]) -> Mapping[str, object]:
    table = data.get(name, {})
    if not isinstance(table, dict):
        raise CarError(f"{name} must be a table, written as [{name}]")
    _known(table, known, f"[{name}]")
    return table


def _optional(
    table: Mapping[str, object], key: str, read: Callable[[object, str], _T]
) -> _T | None:
    return read(table[key], key) if key in table else None


def _known(table: Mapping[str, object], names: tuple[str, ...], where: str) -> None:
    for key in table:
        if key not in names:
            near = difflib.get_close_matches(key, names, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]}?" if near else f"known there: {', '.join(names)}"
            raise CarError(f"unknown key {key!r} in {where}; {hint}")


def _read(path: Path) -> tuple[Car, dict[str, object]]:
    name = f"car file {str(path)!r}"
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a device or a pipe may never end
            raise CarError(f"cannot read the {name}: it is not a regular file")
        with path.open("rb") as file:
            data = file.read(_LARGEST_FILE_BYTES + 1)
        if len(data) > _LARGEST_FILE_BYTES:
            raise CarError(f"{name} is over 1 MB; that is not a car file")
        table = tomllib.loads(data.decode("utf-8-sig"))
    except OSError as error:
        reason = error.strerror or "unknown trouble"
        raise CarError(f"cannot read the {name}: {reason}") from error
    except UnicodeDecodeError as error:
        raise CarError(
            f"{name} is not valid TOML, because it is not UTF-8; save it as plain text in UTF-8"
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise CarError(f"{name} is not valid TOML: {error}") from error
    try:
        return parse_car(table), table
    except CarError as error:
        raise CarError(f"{name}: {error}") from error
