"""Random whole cars, sized from their car file and drive: python -m tests.benchmarks.garage.

Each car has its own physics (``tests/garage``), apart from the analysis and different in detail.
The sizing sees the owner's car file, lengths off by up to 2 % and gas temperatures by up to 40 K,
and the order's level over engine speed with noise, as ``find`` hands it on (a generated drive for
each car would take hours; ``find`` has benchmarks of its own). What it says is then welded onto the
true car. Cured: 10 dB or more off the highest level between 0.85 and 1.18 times the drone's rpm,
and the highest level in the rest of the driving range up by no more than 3 dB.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import time
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.branches import Sizing, Target
from analysis.errors import AnalysisError
from analysis.exhaust.car import Car, parse_car
from analysis.exhaust.tube_stock import INCH_TUBES
from analysis.size.request import OrderLevels, SizingRequest, with_car
from analysis.size.size import size_branches
from tests.benchmarks.garage_possible import can_be_cured
from tests.garage.draw import Told, droning_car, tell, true_place_m
from tests.garage.drone import Change, Drone, Measured, change, measure
from tests.garage.spec import TrueCar, Welded

Built = tuple[tuple[Welded, ...], Sizing | None, float]

CUT_OFF_M, PLACE_OFF_M = 0.002, 0.015  # how far a builder's saw and tape are off
_HAND_SPEED_M_S = 343.0
_LOW_HZ = 100.0  # a quarter wave of warm gas is 1 m there


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One way to size one car; ``range_db`` is what was foretold."""

    way: str
    change: Change | None
    range_db: tuple[float, float] | None = None
    said_no: bool = False
    seconds: float = 0.0
    note: str = ""
    drone_hz: float = float("nan")
    could_be: bool = True  # cured, by somebody who knows everything; asked where it was not


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One car, what its owner tells, and what a drive of it measured."""

    car: TrueCar
    heard: Drone
    told: Told
    known: Car
    measured: Measured


def case_of(seed: int, *, tight: bool) -> Case | None:
    """Draw one car and drive it; None when noise hides its drone."""
    rng = np.random.default_rng([83, seed, tight])
    car, heard = droning_car(rng)
    told = tell(car, rng, tight=tight)
    measured = measure(car, heard, rng)
    if measured is None:
        return None
    known = parse_car(tomllib.loads(told.text))
    return Case(car=car, heard=heard, told=told, known=known, measured=measured)


def builds(case: Case, seed: int) -> dict[str, Built]:
    """Size and build one car in every way, the whole exhaust last."""
    car, measured, told = case.car, case.measured, case.told
    rng = np.random.default_rng([84, seed])
    return {
        "hand": _by_hand(car, measured, told, rng),
        "loss only": _by_loss(car, case.known, measured, told, rng),
        "whole exhaust": _by_network(car, case.known, measured, told, rng),
    }


def run_car(seed: int, *, tight: bool, driven: bool) -> list[Row]:
    """Size one car in every way; no rows when noise hides its drone."""
    case = case_of(seed, tight=tight)
    if case is None:
        return []
    if not driven:
        nothing = replace(case.measured, rpm=np.empty(0), level_db=np.empty(0))
        case = replace(case, measured=nothing)
    rows = [_judged(way, case.car, case.heard, *what) for way, what in builds(case, seed).items()]
    last = rows[-1]
    if last.change is None or not last.change.is_cured:
        could_be = can_be_cured(case.car, case.heard, case.told, INCH_TUBES)
        rows[-1] = replace(last, could_be=could_be)
    return rows


def _judged(
    way: str,
    car: TrueCar,
    heard: Drone,
    welded: tuple[Welded, ...],
    sizing: Sizing | None,
    seconds: float,
) -> Row:
    hz = car.order * heard.peak_rpm / 60.0
    row = Row(
        way=way,
        change=change(car, heard, welded),
        seconds=seconds,
        note=f"{hz:.0f} Hz",
        drone_hz=hz,
    )
    if sizing is None:
        return row
    foretold = sizing.predicted.level_change_db_range
    codes = {warning.code for warning in sizing.warnings}
    what = " ".join(
        f"{b.place_m:.2f}:{1e3 * b.length_m:.0f}x{1e3 * b.bore_m:.0f}{'+can' * (b.neck_m > 0.0)}"
        for b in welded
    )
    return replace(
        row,
        range_db=(foretold.low, foretold.high),
        said_no=bool(codes & {"no_cure_in_room", "branch_longer_than_room"}),
        note=f"{hz:.0f} Hz, {what}",
    )


def _by_hand(car: TrueCar, measured: Measured, told: Told, rng: np.random.Generator) -> Built:
    """A quarter wave of cold air, as long as there is room, at any place where there is room."""
    length_m = _HAND_SPEED_M_S / 4.0 / (car.order * measured.drone.peak_rpm / 60.0)
    bore_m = 0.75 * car.pieces[0].bore_m
    spans = np.array([b - a for a, b in told.places_m])
    start, end = told.places_m[int(rng.choice(spans.size, p=spans / spans.sum()))]
    place_m = true_place_m(car, told, float(rng.uniform(start, end)))
    return (Welded(place_m=place_m, length_m=length_m, bore_m=bore_m),), None, 0.0


def _by_loss(
    car: TrueCar, known: Car, measured: Measured, told: Told, rng: np.random.Generator
) -> Built:
    """Lengths by transmission loss, places by the rule of thumb, as near as there is room."""
    blind = replace(known, sections=(), places_m=())
    request = replace(request_of(measured, blind), pipe_inner_diameter_m=car.pieces[0].bore_m)
    started = time.perf_counter()
    sizing = size_branches(request)
    seconds = time.perf_counter() - started
    wave_m = 420.0 / (car.order * measured.drone.peak_rpm / 60.0)
    wanted = [sum(told.lengths_m) - wave_m / 4.0]
    if sizing.spacing_m is not None:
        wanted.append(wanted[0] - sizing.spacing_m)
    places = [_nearest_open(told, place) for place in wanted]
    return _weld(car, told, sizing, places, rng), sizing, seconds


def _by_network(
    car: TrueCar, known: Car, measured: Measured, told: Told, rng: np.random.Generator
) -> Built:
    started = time.perf_counter()
    sizing = size_branches(request_of(measured, known))
    seconds = time.perf_counter() - started
    places = [b.position_m for b in sizing.branches if b.position_m is not None]
    if len(places) < len(sizing.branches):
        return (), sizing, seconds
    return _weld(car, told, sizing, places, rng), sizing, seconds


def request_of(measured: Measured, known: Car) -> SizingRequest:
    """Ask as `find` would hand the drive on."""
    order = known.engine.cylinders / 2.0
    levels = OrderLevels(rpm=measured.rpm, level_db=measured.level_db)
    target, *others = (_target(each, order) for each in (measured.drone, *measured.others))
    request = SizingRequest(
        target=target,
        others=tuple(others),
        levels=levels if measured.rpm.size else None,
    )
    return with_car(request, known)


def _target(drone: Drone, order: float) -> Target:
    return Target(
        engine_order=order,
        peak_hz=order * drone.peak_rpm / 60.0,
        low_hz=order * drone.low_rpm / 60.0,
        high_hz=order * drone.high_rpm / 60.0,
    )


def _weld(
    car: TrueCar,
    told: Told,
    sizing: Sizing,
    places_m: Sequence[float],
    rng: np.random.Generator,
) -> tuple[Welded, ...]:
    return tuple(
        Welded(
            place_m=true_place_m(car, told, place + rng.uniform(-PLACE_OFF_M, PLACE_OFF_M)),
            length_m=branch.length_m + rng.uniform(-CUT_OFF_M, CUT_OFF_M),
            bore_m=branch.tube.inner_diameter_m,
            can_bore_m=None if branch.can is None else branch.can.tube.inner_diameter_m,
            neck_m=0.0 if branch.can is None else branch.can.neck_m,
        )
        for branch, place in zip(sizing.branches, places_m, strict=True)
    )


def _nearest_open(told: Told, wanted_m: float) -> float:
    inside = [float(np.clip(wanted_m, start, end)) for start, end in told.places_m]
    return min(inside, key=lambda place: abs(place - wanted_m))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("cars", type=int, nargs="?", default=200)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--tight", action="store_true", help="half the pipe, none over 0.8 m")
    parser.add_argument("--no-drive", action="store_true", help="only the drone's band is known")
    parser.add_argument("--each", action="store_true", help="a line for each car")
    asked = parser.parse_args()
    rows: list[Row] = []
    hidden = 0
    for seed in range(asked.first, asked.first + asked.cars):
        try:
            of_car = run_car(seed, tight=asked.tight, driven=not asked.no_drive)
        except AnalysisError as error:
            print(f"{seed:4d} refused: {error}")
            continue
        hidden += not of_car
        rows += of_car
        if asked.each:
            for row in of_car:
                print(f"{seed:4d} {_line(row)}", flush=True)
    print(
        f"{asked.cars} cars, {'tight room' if asked.tight else 'free room'}; drone hidden: {hidden}"
    )
    print("way            cured  median dB  ≥10 dB  moved  no cure said  range holds  slowest s")
    for way in dict.fromkeys(row.way for row in rows):
        print(_summary(way, [row for row in rows if row.way == way]))
    for what, of_what in (
        ("below", [r for r in rows if r.drone_hz < _LOW_HZ]),
        ("above", [r for r in rows if r.drone_hz >= _LOW_HZ]),
    ):
        print(_share(what, [row for row in of_what if row.way == "whole exhaust"]))


def _share(what: str, rows: list[Row]) -> str:
    cured = sum(row.change is not None and row.change.is_cured for row in rows)
    hopeless = sum(not row.could_be for row in rows)
    return (
        f"whole exhaust, drone {what} {_LOW_HZ:.0f} Hz: {cured} of {len(rows)} cured; "
        f"{hopeless} more could not be in that room, even with everything known"
    )


def _line(row: Row) -> str:
    told = "" if row.range_db is None else f"[{row.range_db[0]:6.1f} {row.range_db[1]:6.1f}]"
    what = row.change
    if what is None:
        return f"{row.way:14s} nothing built"
    verdict = "cured" if what.is_cured else "NOT  "
    said = " said no" if row.said_no else ""
    said += "" if row.could_be else " (not to be cured)"
    return (
        f"{row.way:14s} {verdict} {what.drone_db:6.1f} {told:16s} else {what.elsewhere_db:+5.1f} "
        f"{row.seconds:4.1f} s{said} {row.note}"
    )


def _summary(way: str, rows: list[Row]) -> str:
    changes = [row.change for row in rows if row.change is not None]
    drone = np.array([c.drone_db for c in changes])
    moved = np.array([c.elsewhere_db > 3.0 for c in changes])
    held = [
        row.range_db[0] - 0.05 <= row.change.drone_db <= row.range_db[1] + 0.05
        for row in rows
        if row.range_db is not None and row.change is not None
    ]
    not_cured = [row for row in rows if row.change is None or not row.change.is_cured]
    said = sum(row.said_no for row in not_cured)
    return (
        f"{way:14s} {np.mean([c.is_cured for c in changes]):5.1%} {np.median(drone):9.1f} "
        f"{np.mean(drone <= -10.0):8.1%} {np.mean(moved):6.1%} "
        f"{f'{said} of {len(not_cured)}':>13s} {np.mean(held) if held else np.nan:12.1%} "
        f"{max(row.seconds for row in rows):9.1f}"
    )


if __name__ == "__main__":
    main()
