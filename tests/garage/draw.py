"""Draw random cars that drone, and write what their owner knows into a car file."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.garage.drone import Drone, drone_of
from tests.garage.spec import BranchPhysics, Cabin, Piece, TrueCar

_LENGTHS_OFF = 0.02
_GAS_OFF_C = 40.0
_CLEAR_M = 0.08  # a branch keeps this far from the ends of its pipe
_TIGHT_LONGEST_M = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the owner tells: the car file, and where in it a branch may go."""

    text: str
    lengths_m: tuple[float, ...]  # of the pieces, as measured
    places_m: tuple[tuple[float, float], ...]
    longest_m: float | None


def droning_car(rng: np.random.Generator) -> tuple[TrueCar, Drone]:
    """Draw cars of one number of cylinders until one has a drone."""
    cylinders = int(rng.choice([4, 6, 8]))
    while True:
        car = draw_car(cylinders, rng)
        drone = drone_of(car)
        if drone is not None:
            return car, drone


def draw_car(cylinders: int, rng: np.random.Generator) -> TrueCar:
    """Draw a car; ranges as in the numbers to reach, the rest common practice, no source."""
    gas_c = float(rng.uniform(60.0, 220.0))
    return TrueCar(
        cylinders=cylinders,
        range_rpm=(float(rng.uniform(1100, 1400)), float(rng.uniform(3300, 4200))),
        pieces=_pieces(rng),
        inlet_c=float(rng.uniform(380.0, 560.0)),
        outlet_c=float(rng.uniform(150.0, 260.0)),
        bend_of_gradient=float(rng.uniform(0.0, 0.5)),
        inlet_mach_at_3000=float(rng.uniform(0.04, 0.10)),
        echo=complex(rng.uniform(0.0, 0.9) * np.exp(1j * rng.uniform(-np.pi, np.pi))),
        echo_m=float(rng.uniform(0.1, 0.6)),
        cabin=_cabin(rng),
        branch=BranchPhysics(
            gas_c=(gas_c, float(np.clip(gas_c + rng.uniform(-15.0, 15.0), 60.0, 220.0))),
            hotter_mouth_c=float(rng.uniform(0.0, 120.0)),
            decay_bores=float(rng.uniform(2.0, 10.0)),
            mouth_loss=float(rng.uniform(0.3, 1.0)),
            mass_swept_away=float(rng.uniform(0.0, 1.0)),
        ),
    )


def _pieces(rng: np.random.Generator) -> tuple[Piece, ...]:
    bore_m = float(rng.uniform(0.045, 0.076))
    chambers = int(rng.integers(1, 3))
    lengths = [rng.uniform(0.9, 2.4)] + [rng.uniform(0.6, 1.8) for _ in range(chambers)]
    if chambers == 2:
        lengths[-1] = rng.uniform(0.3, 1.0)
    pieces = []
    for number, length in enumerate(lengths):
        if number:
            pieces.append(
                Piece(
                    is_chamber=True,
                    length_m=float(rng.uniform(0.30, 0.60)),
                    bore_m=float(rng.uniform(0.12, 0.20)),
                    packing_np_m=float(rng.uniform(0.0, 0.8)),
                )
            )
        pieces.append(
            Piece(is_chamber=False, length_m=float(length), bore_m=bore_m, packing_np_m=0.0)
        )
    return tuple(pieces)


def _cabin(rng: np.random.Generator) -> Cabin:
    count = int(rng.integers(0, 4))
    modes = tuple(
        (
            float(rng.uniform(40, 300)),
            float(rng.uniform(-0.2, 0.25) / count),
            float(rng.uniform(2, 8)),
        )
        for _ in range(count)
    )
    return Cabin(
        rise_db_per_octave=float(rng.uniform(-5.0, 1.0)),
        low_pass_hz=float(rng.uniform(250.0, 600.0)),
        hump_hz=float(rng.uniform(60.0, 200.0)),
        hump_db=float(rng.uniform(-4.0, 4.0)),
        modes=modes,
    )


def tell(car: TrueCar, rng: np.random.Generator, *, tight: bool) -> Told:
    """Owner's car file: every length and temperature off by what an owner's may be."""
    lengths_m = tuple(
        piece.length_m * (1.0 + rng.uniform(-_LENGTHS_OFF, _LENGTHS_OFF)) for piece in car.pieces
    )
    inlet_c = car.inlet_c + rng.uniform(-_GAS_OFF_C, _GAS_OFF_C)
    outlet_c = car.outlet_c + rng.uniform(-_GAS_OFF_C, _GAS_OFF_C)
    places_m = _pipes(car, lengths_m)
    if tight:
        places_m = _half_closed(places_m, rng)
    longest_m = _TIGHT_LONGEST_M if tight else None
    lines = [
        "[engine]",
        f"cylinders = {car.cylinders}",
        f"driving_range_rpm = [{car.range_rpm[0]:.0f}, {car.range_rpm[1]:.0f}]",
        "[exhaust]",
        f'inlet_gas_temperature = "{inlet_c:.0f} degC"',
        f'outlet_gas_temperature = "{outlet_c:.0f} degC"',
    ]
    for piece, length_m in zip(car.pieces, lengths_m, strict=True):
        lines += [
            "[[exhaust.section]]",
            f'kind = "{"chamber" if piece.is_chamber else "pipe"}"',
            f'length = "{1e3 * length_m:.1f} mm"',
            f'inner_diameter = "{1e3 * piece.bore_m:.1f} mm"',
        ]
    room = ", ".join(f'["{1e3 * a:.1f} mm", "{1e3 * b:.1f} mm"]' for a, b in places_m)
    lines += ["[room]", f"places = [{room}]"]
    if longest_m is not None:
        lines.append(f'longest_branch = "{longest_m:g} m"')
    return Told(text="\n".join(lines), lengths_m=lengths_m, places_m=places_m, longest_m=longest_m)


def true_place_m(car: TrueCar, told: Told, place_m: float) -> float:
    """Where a builder who measures with the owner's tape comes out: the same share of its piece."""
    ends = np.cumsum((0.0, *told.lengths_m))
    index = int(np.clip(np.searchsorted(ends, place_m, side="right") - 1, 0, len(ends) - 2))
    share = (place_m - ends[index]) / told.lengths_m[index]
    return float(sum(p.length_m for p in car.pieces[:index]) + share * car.pieces[index].length_m)


def _pipes(car: TrueCar, lengths_m: tuple[float, ...]) -> tuple[tuple[float, float], ...]:
    ends = np.cumsum((0.0, *lengths_m))
    return tuple(
        (float(ends[i] + _CLEAR_M), float(ends[i + 1] - _CLEAR_M))
        for i, piece in enumerate(car.pieces)
        if not piece.is_chamber
    )


def _half_closed(
    places_m: tuple[tuple[float, float], ...], rng: np.random.Generator
) -> tuple[tuple[float, float], ...]:
    """Close random stretches of 0.1 m to 0.6 m until half of the pipe is left."""
    step_m = 0.02
    spots = np.concatenate([np.arange(a, b, step_m) for a, b in places_m])
    is_open = np.ones(spots.size, dtype=bool)
    while is_open.mean() > 0.5:
        start = rng.choice(spots[is_open])
        gone = (spots >= start) & (spots < start + rng.uniform(0.1, 0.6)) & is_open
        surplus = int(np.count_nonzero(is_open) - spots.size // 2)
        is_open[np.flatnonzero(gone)[:surplus]] = False
        if surplus <= 0:
            break
    runs: list[tuple[float, float]] = []
    for spot in spots[is_open]:
        if runs and spot - runs[-1][1] < 1.5 * step_m:
            runs[-1] = (runs[-1][0], float(spot))
        else:
            runs.append((float(spot), float(spot)))
    return tuple((a, b) for a, b in runs if b > a)
