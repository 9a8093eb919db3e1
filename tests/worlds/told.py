"""What an owner writes into the car file: with all legs, or as one pipe."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.worlds.cars import Leg, Link, Stretch, WorldCar
from tests.worlds.draw import World

_LENGTHS_OFF = 0.02
_GAS_OFF_C = 40.0
_CLEAR_M = 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """``whole`` has every leg; ``one_pipe`` the way from the first engine leg to one outlet."""

    whole: str
    one_pipe: str
    path: tuple[str, ...]  # legs that the one pipe is made of
    stretches: dict[str, tuple[Stretch, ...]]  # as measured


def tell(car: WorldCar, world: World, rng: np.random.Generator) -> Told:
    """Lengths and temperatures off by what an owner's may be; a mirrored side is measured once."""
    stretches: dict[str, tuple[Stretch, ...]] = {}
    for leg in car.legs:
        same = leg.name == "right" and leg.stretches == car.leg("left").stretches
        stretches[leg.name] = stretches["left"] if same else _measured(leg, world, rng)
    gas = [
        f'{end}_gas_temperature = "{value + rng.uniform(-_GAS_OFF_C, _GAS_OFF_C):.0f} degC"'
        for end, value in (("inlet", car.inlet_c), ("outlet", car.outlet_c))
    ]
    path = _path(car)
    engine = [
        "[engine]",
        f"cylinders = {car.cylinders}",
        f"driving_range_rpm = [{car.range_rpm[0]:.0f}, {car.range_rpm[1]:.0f}]",
    ]
    chain = [stretch for name in path for stretch in stretches[name]]
    lines = [*engine, "[exhaust]", *gas]
    for stretch in chain:
        lines += ["[[exhaust.section]]", *_as_chamber(stretch)]
    room = ", ".join(f'["{1e3 * a:.1f} mm", "{1e3 * b:.1f} mm"]' for a, b in _room(chain))
    lines += ["[room]", f"places = [{room}]"]
    return Told(
        whole="\n".join(_whole(car, world, stretches, engine, gas)),
        one_pipe="\n".join(lines),
        path=path,
        stretches=stretches,
    )


def _measured(leg: Leg, world: World, rng: np.random.Generator) -> tuple[Stretch, ...]:
    whole = list(leg.stretches)
    if world.hidden_resonator:  # seen as a piece of pipe
        whole[:3] = [replace(whole[0], length_m=sum(s.length_m for s in whole[:3]))]
    off = [
        replace(s, length_m=s.length_m * (1.0 + rng.uniform(-_LENGTHS_OFF, _LENGTHS_OFF)))
        for s in whole
    ]
    if world.slipped is not None:
        slip_m = rng.choice([-1.0, 1.0]) * rng.uniform(0.3, 0.7)
        told = off[world.slipped]
        off[world.slipped] = replace(told, length_m=max(told.length_m + slip_m, 0.4))
    return tuple(off)


def _path(car: WorldCar) -> tuple[str, ...]:
    path = [car.legs[0]]
    while following := [leg for leg in car.legs if path[-1].name in leg.feeds]:
        path.append(following[0])
    return tuple(leg.name for leg in path)


def _size(stretch: Stretch) -> str:
    return f"{1e3 * (stretch.shell_m or stretch.bore_m):.1f} mm"


def _as_chamber(stretch: Stretch) -> list[str]:
    kind = "pipe" if stretch.kind == "pipe" else "chamber"
    length = f'length = "{1e3 * stretch.length_m:.1f} mm"'
    return [f'kind = "{kind}"', length, f'inner_diameter = "{_size(stretch)}"']


def _as_kind(stretch: Stretch, is_told: bool) -> list[str]:
    lines = _as_chamber(stretch)
    if stretch.kind in ("pipe", "chamber"):
        return lines
    kind = stretch.kind if is_told else "unknown"
    return ['kind = "muffler"', f'type = "{kind}"', *lines[1:]]


def _whole(
    car: WorldCar,
    world: World,
    stretches: dict[str, tuple[Stretch, ...]],
    engine: list[str],
    gas: list[str],
) -> list[str]:
    lines = [*engine]
    if len(car.banks) == 2:
        lines += ['layout = "cross-plane V"', "banks = [[1, 2, 3, 4], [5, 6, 7, 8]]"]
    lines += ["[exhaust]", *gas]
    places: list[str] = []
    for leg in car.legs:
        lines += ["[[exhaust.leg]]", f'name = "{leg.name}"', f"from = {_from(car, leg)}"]
        for stretch in stretches[leg.name]:
            lines += ["[[exhaust.leg.section]]", *_as_kind(stretch, world.is_told)]
        for start, end in _room(list(stretches[leg.name])):
            places += ["[[room.place]]", f'leg = "{leg.name}"']
            places += [f'from = "{1e3 * start:.1f} mm"', f'to = "{1e3 * end:.1f} mm"']
    for link in car.links:
        lines += _link(link)
    return [*lines, *places]


def _from(car: WorldCar, leg: Leg) -> str:
    if leg.bank is not None:
        return f'"bank {leg.bank + 1}"' if len(car.banks) == 2 else '"all"'
    names = ", ".join(f'"{name}"' for name in leg.feeds)
    return names if len(leg.feeds) == 1 else f"[{names}]"


def _link(link: Link) -> list[str]:
    at = ", ".join(f'"{1e3 * at_m:.1f} mm"' for at_m in link.at_m)
    between = ", ".join(f'"{name}"' for name in link.legs)
    kind = "balance pipe" if link.length_m else "x"
    lines = ["[[exhaust.link]]", f'kind = "{kind}"', f"between = [{between}]", f"at = [{at}]"]
    if link.length_m:
        lines += [f'length = "{1e3 * link.length_m:.1f} mm"']
        lines += [f'inner_diameter = "{1e3 * link.bore_m:.1f} mm"']
    return lines


def _room(chain: list[Stretch]) -> list[tuple[float, float]]:
    ends = np.cumsum([0.0, *(stretch.length_m for stretch in chain)])
    return [
        (float(ends[i] + _CLEAR_M), float(ends[i + 1] - _CLEAR_M))
        for i, stretch in enumerate(chain)
        if stretch.kind == "pipe"
    ]


def true_place(
    car: WorldCar, told: Told, from_start_m: float, leg: str | None = None
) -> tuple[str, float]:
    """Where on which leg a builder comes out who measures with the owner's tape: the same share
    of its pipe, kept clear of a pipe's ends and of a resonator that he did not know of."""
    path = told.path if leg is None else (leg,)
    for name in path:
        measured = told.stretches[name]
        if from_start_m <= sum(s.length_m for s in measured) or name == path[-1]:
            return name, _in_leg(car.leg(name).stretches, measured, from_start_m)
        from_start_m -= sum(s.length_m for s in measured)
    raise ValueError(path)


def _in_leg(true: tuple[Stretch, ...], measured: tuple[Stretch, ...], at_m: float) -> float:
    if len(true) != len(measured):
        merged = replace(true[0], length_m=sum(s.length_m for s in true[:3]))
        place_m = _in_leg((merged, *true[3:]), measured, at_m)
        starts, ends = true[0].length_m, true[0].length_m + true[1].length_m
        if starts - 0.03 < place_m < ends + 0.03:
            place_m = starts - 0.03 if place_m < (starts + ends) / 2.0 else ends + 0.03
        return place_m
    edges = np.cumsum([0.0, *(s.length_m for s in measured)])
    index = int(np.clip(np.searchsorted(edges, at_m, side="right") - 1, 0, len(true) - 1))
    base_m = sum(s.length_m for s in true[:index])
    share = (at_m - edges[index]) / measured[index].length_m
    return base_m + float(np.clip(share, 0.01, 0.99)) * true[index].length_m
