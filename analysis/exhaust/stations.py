"""Where branches may be welded on: at one place, or at the same place of two pipes about alike."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.line import ExhaustLine, Pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Stations:
    """Spots of the exhaust, each with the places that get a branch of the same length there.

    Attributes
    ----------
    piece : number of the piece that starts at each place, [shape=(n_places,)], rising
    places : numbers of each station's places, one of each pipe; [n_stations]
    pipe : number of the pipe, the first of two alike, [shape=(n_stations,)]
    position_m : from the start of that pipe, [shape=(n_stations,)]
    """

    piece: IntArray
    places: tuple[tuple[int, ...], ...]
    pipe: IntArray
    position_m: FloatArray


def stations_at(pieces: Pieces, numbers: Sequence[int]) -> Stations:
    """Make a station of each piece that is not on a pipe which goes with another."""
    pipe, position_m, pipes = pieces.pipe, pieces.position_m, pieces.line.pipes
    wanted = [int(n) for n in numbers if pipes[pipe[n]].beside is None]
    others = {
        each.beside: np.flatnonzero(pipe == number)
        for number, each in enumerate(pipes)
        if each.beside is not None
    }

    def alike(piece: int) -> tuple[int, ...]:
        other = others.get(int(pipe[piece]))
        if other is None:
            return (piece,)
        # pipes alike are cut alike; of one nearly so it is the nearest place
        return piece, int(other[np.abs(position_m[other] - position_m[piece]).argmin()])

    of_station = [alike(piece) for piece in wanted]
    every = np.unique([piece for together in of_station for piece in together]).astype(np.int64)
    rank = {piece: number for number, piece in enumerate(every.tolist())}
    return Stations(
        piece=every,
        places=tuple(tuple(rank[piece] for piece in together) for together in of_station),
        pipe=pipe[wanted].astype(np.int64),
        position_m=position_m[wanted],
    )


def on_other(stations: Stations, pieces: Pieces, other: Pieces) -> Stations:
    """Find the same stations where a muffler was put into a pipe: the nearest bare pipe to each."""
    takes_branch = np.array([section.kind.takes_branch for section in other.line.sections])
    nearest = []
    for piece in stations.piece:
        there = takes_branch[other.section] & (other.pipe == pieces.pipe[piece])
        away_m = np.abs(other.position_m - pieces.position_m[piece])
        nearest.append(np.where(there, away_m, np.inf))
    return replace(stations, piece=np.argmin(nearest, axis=1).astype(np.int64))


def names_at(line: ExhaustLine, pipe: int) -> tuple[str, ...]:
    """Names of a pipe and of the one that goes with it; none where the exhaust is one pipe."""
    names = (line.pipes[pipe].name, *(p.name for p in line.pipes if p.beside == pipe))
    return tuple(name for name in names if name is not None)
