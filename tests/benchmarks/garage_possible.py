"""Whether a true car could be cured in its room at all, by somebody who knows everything of it.

The sizing's own search, given the car as it truly is: no spread, the true gas in every branch. What
it then finds is welded onto the true car like any other. So a car that the sizing failed, and that
even this does not cure, was not the sizing's to cure.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.bench.bare_exhaust import bare_exhaust
from analysis.bench.exhaust_bench import ExhaustBench
from analysis.branches import Tube
from analysis.exhaust.guesses import Members
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, Pipe, cut, has_room, on_pipe
from analysis.exhaust.mufflers import PACKING_NP_M, PACKING_SLOWS
from analysis.exhaust.sections import KINDS, Section
from analysis.exhaust.stations import stations_at
from analysis.size.plan import ways_with_cans
from analysis.size.search import Room, Way, best
from tests.garage.draw import Told, true_place_m
from tests.garage.drone import Drone, change, nearness
from tests.garage.level import level_db
from tests.garage.spec import TrueCar, Welded

_COPIES = 8  # of the one truth: the search thins what it is given
_PIECE_M = 0.04
_TUBES = 3  # widest that fit
_LENGTHS_M = (0.15, 3.0)


def can_be_cured(car: TrueCar, heard: Drone, told: Told, tubes: tuple[Tube, ...]) -> bool:
    """Try the widest tubes, plain and then with cans, two branches, all known."""
    line = _true_line(car, told)
    bench = _bench(car, heard, line)
    room = Room(
        bench=bench,
        allowed=np.flatnonzero([has_room(line, 0, at_m) for at_m in bench.position_m.tolist()]),
        lengths_m=(_LENGTHS_M[0], min(_LENGTHS_M[1], told.longest_m or _LENGTHS_M[1])),
    )
    bore_m = car.pieces[0].bore_m
    fitting = [tube for tube in tubes if tube.inner_diameter_m <= bore_m]
    widest = sorted(fitting, key=lambda tube: tube.inner_diameter_m, reverse=True)[:_TUBES]
    ways = [Way(tube, None, 2) for tube in widest]
    for way in (*ways, *ways_with_cans(room, tubes, count=2)):
        trials, can = best(room, way)[0].trials, way.can
        welded = tuple(
            Welded(
                place_m=float(bench.position_m[place]),
                length_m=float(length),
                bore_m=way.tube.inner_diameter_m,
                can_bore_m=None if can is None else can.tube.inner_diameter_m,
                neck_m=0.0 if can is None else can.neck_m,
            )
            for place, length in zip(trials.place[0], trials.length_m[0], strict=True)
        )
        if change(car, heard, welded).is_cured:
            return True
    return False


def true_members(car: TrueCar, copies: int) -> Members:
    """The true car as the sizing would guess it, if it guessed right."""

    def same(value: complex) -> np.ndarray:
        return np.full(copies, value)

    inside = [
        [piece.packing_np_m / PACKING_NP_M[1], 0.33 / PACKING_SLOWS[1]] for piece in car.pieces
    ]
    return Members(
        stretch=np.ones((copies, len(car.pieces))),
        inlet_k=same(car.inlet_c + 273.15),
        outlet_k=same(car.outlet_c + 273.15),
        bend=same(car.bend_of_gradient),
        warmer_k=np.zeros((copies, 1)),
        build=np.zeros((copies, len(car.pieces)), dtype=np.int64),
        inside=np.tile(inside, (copies, 1, 1)),
        echo=same(car.echo).astype(np.complex128),
        echo_m=same(car.echo_m),
        mach=same(car.inlet_mach_at_3000),
        pulse=np.ones((copies, 1), dtype=np.complex128),
        ear=np.ones((copies, 1)),
        ear_m=np.zeros((copies, 1)),
    )


def true_sections(car: TrueCar) -> tuple[Section, ...]:
    """The pieces as a car file without errors would give them."""
    return tuple(
        Section(
            kind=KINDS["chamber" if piece.is_chamber else "pipe"],
            length_m=piece.length_m,
            inner_diameter_m=piece.bore_m,
        )
        for piece in car.pieces
    )


def _true_line(car: TrueCar, told: Told) -> ExhaustLine:
    open_m = tuple(
        (true_place_m(car, told, start), true_place_m(car, told, end))
        for start, end in told.places_m
    )
    return one_pipe(true_sections(car), open_m)


def one_pipe(
    sections: tuple[Section, ...], places_m: tuple[tuple[float, float], ...] = ()
) -> ExhaustLine:
    """An exhaust of one pipe, nothing known of its gas."""
    pipe = Pipe(name=None, sections=sections, source=0, places_m=places_m)
    return ExhaustLine(pipes=(pipe,), inlet_k=None, outlet_k=None)


def _bench(car: TrueCar, heard: Drone, line: ExhaustLine) -> ExhaustBench:
    members = true_members(car, _COPIES)
    layout = lay_out(cut(line, _PIECE_M))
    stations = stations_at(layout.pieces, on_pipe(layout.pieces).tolist())
    rpm = np.geomspace(*car.range_rpm, 180)
    frequency_hz = rpm * car.order / 60.0
    bare = bare_exhaust(layout, stations, members, frequency_hz, rpm)
    return ExhaustBench(
        frequency_hz=frequency_hz,
        near=nearness(rpm, heard)[np.newaxis],
        before_db=np.tile(level_db(car, rpm), (_COPIES, 1)),
        stations=stations,
        places=bare.places,
        pipe_bore_m=np.full(stations.piece.size, car.pieces[0].bore_m),
        mass_per_m=bare.mass_per_m,
        branch_k=np.tile(np.array(car.branch.gas_c) + 273.15, (_COPIES, 1)),
        swept=np.full(_COPIES, car.branch.mass_swept_away),
        mouth_resistance=(car.branch.mouth_loss * bare.mach).astype(np.float32),
    )
