"""What the whole exhaust looks like at the drone, for the report: pressure, places, the model."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from itertools import accumulate

import numpy as np

from analysis.acoustics.end_correction import SAME_BORE_M
from analysis.basics.arrays import FloatArray, IntArray
from analysis.bench.exhaust_bench import ExhaustBench, Trials
from analysis.bench.outcome import WORST
from analysis.branches import LinePicture, LineSection, PlaceMap, Target
from analysis.exhaust.line import ExhaustLine, Pipe
from analysis.exhaust.stations import names_at
from analysis.size.search import Room
from analysis.size.setup import Setup

# judgement: quantiles and points of the picture of the exhaust; no length or place moves.
_SPREAD = (0.1, 0.5, 0.9)  # of the guesses
_MOST_PLACES, _MAP_LENGTHS = 60, 30
_THIN_MEMBERS, _THIN_FREQUENCIES = 3, 2


def line_pictures(
    line: ExhaustLine, setup: Setup, target: Target, room: Room, chosen: Trials
) -> list[LinePicture]:
    """Look at each pipe that gets a branch, before any, and at one branch at each place of it."""
    pipes = dict.fromkeys(setup.bench.stations.pipe[chosen.place[0]].tolist())
    return [_picture(line, setup, target, room, chosen, pipe) for pipe in pipes]


def _picture(
    line: ExhaustLine, setup: Setup, target: Target, room: Room, chosen: Trials, pipe: int
) -> LinePicture:
    bench = setup.bench
    here = np.flatnonzero(bench.stations.pipe == pipe)
    low, middle, high = np.quantile(_pressure_db(bench, target)[here], _SPREAD, axis=1)
    modelled = None
    if setup.modelled_db is not None and setup.measured_db is not None:
        modelled = np.quantile(setup.modelled_db, _SPREAD, axis=0)
    return LinePicture(
        legs=names_at(line, pipe),
        sections=_sections(line.pipes[pipe]),
        room_m=line.pipes[pipe].places_m,
        position_m=bench.position_m[here],
        pressure_db=middle,
        pressure_low_db=low,
        pressure_high_db=high,
        places=_place_map(room, chosen, here),
        frequency_hz=bench.frequency_hz,
        measured_db=setup.measured_db,
        modelled_db=modelled,
        crossings=tuple(_crossings(line, pipe)),
        goes_into=tuple(p.name for p in line.pipes if pipe in p.feeds and p.name is not None),
    )


def _crossings(line: ExhaustLine, pipe: int) -> Iterator[tuple[float, str]]:
    """Say where the pipe is joined to another one beside it, and by what."""
    for each in line.crossovers:
        if pipe in each.pipes:
            at_m = each.at_m[each.pipes.index(pipe)]
            yield at_m, "X" if each.tube is None else "balance pipe"


def _sections(pipe: Pipe) -> tuple[LineSection, ...]:
    starts_m = accumulate((part.length_m for part in pipe.sections), initial=0.0)
    return tuple(
        LineSection(start_m=start_m, length_m=part.length_m, inner_diameter_m=part.inner_diameter_m)
        for start_m, part in zip(starts_m, pipe.sections, strict=False)
    )


def _pressure_db(bench: ExhaustBench, target: Target) -> FloatArray:
    """Pressure at the drone, each guess's own highest as 0 dB, [shape=(n_stations, n_members)]."""
    at = int(np.abs(bench.frequency_hz - target.peak_hz).argmin())
    only = bench.places.thinned(slice(None), slice(at, at + 1))
    first = (places[0] for places in bench.stations.places)
    pressure = np.array([only.pressure_before(only.spot(place))[:, 0] for place in first])
    size = np.abs(pressure).astype(np.float64)
    # a node has no pressure: without a floor its level has no end
    return np.asarray(20.0 * np.log10(np.maximum(size / size.max(axis=0), 1e-3)))


def _place_map(room: Room, chosen: Trials, here: IntArray) -> PlaceMap:
    bench = room.bench
    thin = bench.thinned(slice(None, None, _THIN_MEMBERS), slice(None, None, _THIN_FREQUENCIES))
    wide = here[bench.pipe_bore_m[here] >= chosen.bore_m - SAME_BORE_M]
    # rounded up, or there would be more than the most
    wide = wide[:: max(1, -(-wide.size // _MOST_PLACES))]
    length_m = np.geomspace(*room.lengths_m, _MAP_LENGTHS)
    outcome = thin.outcome(Trials.singles(wide, length_m, chosen.bore_m, chosen.can))
    shape = (wide.size, length_m.size)
    return PlaceMap(
        position_m=bench.position_m[wide],
        has_room=np.isin(wide, room.allowed),
        length_m=length_m,
        drone_db=np.quantile(outcome.drones_db[0], WORST, axis=1).reshape(shape),
        elsewhere_db=np.quantile(outcome.elsewhere_db, WORST, axis=1).reshape(shape),
    )
