"""Where branches may be welded on: at one place, or at the same place of two pipes alike."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.line import ExhaustLine, Pieces, pipe_of, positions_m


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


def stations_at(line: ExhaustLine, pieces: Pieces, numbers: Sequence[int]) -> Stations:
    """Make a station of each piece that is not on a pipe which mirrors another."""
    pipe = pipe_of(line, pieces)
    first = [int(np.flatnonzero(pipe == number)[0]) for number in range(len(line.pipes))]
    mirrors = {each.twin: number for number, each in enumerate(line.pipes) if each.twin is not None}
    wanted = [int(n) for n in numbers if line.pipes[pipe[n]].twin is None]

    def alike(piece: int) -> tuple[int, ...]:
        own = int(pipe[piece])
        if own not in mirrors:
            return (piece,)
        # pipes alike are cut alike
        return piece, piece - first[own] + first[mirrors[own]]

    of_station = [alike(piece) for piece in wanted]
    every = np.unique([piece for together in of_station for piece in together]).astype(np.int64)
    rank = {piece: number for number, piece in enumerate(every.tolist())}
    return Stations(
        piece=every,
        places=tuple(tuple(rank[piece] for piece in together) for together in of_station),
        pipe=pipe[wanted].astype(np.int64),
        position_m=positions_m(line, pieces)[wanted],
    )


def names_at(line: ExhaustLine, pipe: int) -> tuple[str, ...]:
    """Names of a pipe and of the one that mirrors it; none where the exhaust is one pipe."""
    names = (line.pipes[pipe].name, *(p.name for p in line.pipes if p.twin == pipe))
    return tuple(name for name in names if name is not None)
