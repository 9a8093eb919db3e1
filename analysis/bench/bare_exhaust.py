"""Guesses at an exhaust before any branch, seen from the places where branches could go."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import DTypeLike

from analysis.acoustics.network import Places, all_members, look_at
from analysis.basics.arrays import ComplexArray, FloatArray
from analysis.basics.rows import rows
from analysis.exhaust.guesses import Members, gas_k, mach_at, make_network, mass_per_m
from analysis.exhaust.layout import Layout
from analysis.exhaust.stations import Stations

_AT_ONCE = 32  # guesses; judgement: memory against calls, moves no answer


@dataclass(frozen=True, kw_only=True)
class BareExhaust:
    """What of a bench hangs on the exhaust alone.

    Attributes
    ----------
    outlet : what comes from the outlets, up to a factor, [shape=(n_members, n_frequency)]
    places : of the stations
    pipe_bore_m : at each station, [shape=(n_stations,)]
    mach : of the stream at each place, [shape=(n_places, n_members, n_frequency)]
    mass_per_m : density over cross-section of the pipe at each place, [(n_places, n_members)]
    pipe_k : gas in the pipe at each place, [shape=(n_places, n_members)]
    """

    outlet: ComplexArray
    places: Places
    pipe_bore_m: FloatArray
    mach: FloatArray
    mass_per_m: FloatArray
    pipe_k: FloatArray

    @cached_property
    def level_db(self) -> FloatArray:
        """Level of what comes from the outlets, up to a constant, [(n_members, n_frequency)]."""
        return np.asarray(20.0 * np.log10(np.abs(self.outlet)))


def bare_exhaust(
    layout: Layout,
    stations: Stations,
    members: Members,
    frequency_hz: FloatArray,
    rpm: FloatArray,
    precision: DTypeLike = np.complex128,
) -> BareExhaust:
    """Solve the network of every guess; ``precision`` is that of the places' numbers."""
    where = [layout.where(piece) for piece in stations.piece.tolist()]
    outlets, parts = [], []
    # a few at a time: all guesses at every place of a finely cut exhaust would fill the memory
    for start in range(0, members.mach.size, _AT_ONCE):
        few = rows(members, slice(start, start + _AT_ONCE))
        flow, places = look_at(make_network(layout, few, frequency_hz, rpm), where)
        outlets.append(frequency_hz * flow)
        parts.append(places.in_precision(precision))
    piece = stations.piece
    return BareExhaust(
        outlet=np.concatenate(outlets),
        places=all_members(parts),
        pipe_bore_m=layout.pieces.bore_m[piece[[places[0] for places in stations.places]]],
        mach=mach_at(layout, members, rpm)[piece],
        mass_per_m=mass_per_m(layout, members)[piece],
        pipe_k=gas_k(layout, members, at_start=True)[piece],
    )
