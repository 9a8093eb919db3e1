"""The bench: every guess at the exhaust without branches, and the branches to try on it.

Arrays broadcast as (trial, member, frequency).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from analysis.acoustics.network import Places, all_members
from analysis.acoustics.two_port import AnyComplexArray
from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.rows import rows
from analysis.bench.outcome import Outcome, outcome_between
from analysis.bench.trier import SILENT, Floats, Trier
from analysis.branches import Can
from analysis.exhaust.stations import Stations


def ratios(share: float, steps: int) -> FloatArray:
    """Factors on a length, even in ratio, as tuning is, with one in the middle.

    ``share`` of the length is how far down they go, and as far up in ratio.
    """
    return np.geomspace(1.0 - share, 1.0 / (1.0 - share), steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trials:
    """Branches to try; arrays [shape=(n_trials, n_branches)], all of one bore, with cans or none.

    ``place`` counts the bench's stations; two branches stand in the order of the flow.
    """

    place: IntArray
    length_m: FloatArray
    bore_m: float
    can: Can | None = None

    @classmethod
    def singles(
        cls, place: IntArray, length_m: FloatArray, bore_m: float, can: Can | None
    ) -> Trials:
        """One branch at each place [shape=(n,)] with each length [shape=(m,)], place by place."""
        return cls(
            place=np.repeat(place, length_m.size)[:, None],
            length_m=np.tile(length_m, place.size)[:, None],
            bore_m=bore_m,
            can=can,
        )

    def __getitem__(self, which: IntArray | slice) -> Trials:
        return rows(self, which)

    def row(self, number: int) -> Trials:
        """Give one of them, as trials of a single row."""
        return self[number : number + 1]

    @property
    def count(self) -> int:
        """Number of trials."""
        return int(self.place.shape[0])

    def crossed(self, lengths_m: Sequence[FloatArray]) -> Trials:
        """Every choice of lengths, one of each branch's, at the places of the first row."""
        meshes = np.meshgrid(*lengths_m, indexing="ij")
        length_m = np.stack([mesh.ravel() for mesh in meshes], axis=1)
        return replace(
            self, place=np.broadcast_to(self.place[:1], length_m.shape), length_m=length_m
        )

    def in_flow_order(self) -> Trials:
        """Put the branches of each trial in the order of the flow."""
        order = np.argsort(self.place, axis=1, kind="stable")
        return replace(
            self,
            place=np.take_along_axis(self.place, order, axis=1),
            length_m=np.take_along_axis(self.length_m, order, axis=1),
        )

    def joined_by(self, singles: Trials) -> Trials:
        """Put each of ``singles`` beside each of these single ones, one of these after another."""
        one, other = np.indices((self.count, singles.count)).reshape(2, -1)
        both = replace(
            self,
            place=np.hstack([self.place[one], singles.place[other]]),
            length_m=np.hstack([self.length_m[one], singles.length_m[other]]),
        )
        return both.in_flow_order()


# which axis of each array of a bench counts the guesses: a definition
_MEMBERS_AXIS = {
    "before_db": 0,
    "mass_per_m": 1,
    "branch_k": 0,
    "swept": 0,
    "mouth_resistance": 1,
    "neck_hotter_k": 0,
    "pipe_k": 1,
    "left_out_db": 0,
    "other_way": 0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaustBench:
    """All that branches are tried on.

    Attributes
    ----------
    frequency_hz : [shape=(n_frequency,)]
    near : what counts as each drone, the worst first, [shape=(n_drones, n_frequency)]
    before_db : level before, [shape=(n_members, n_frequency)]
    stations : where branches may go
    places : the stations' places; their precision is that of all work on the bench
    pipe_bore_m : at each station, [shape=(n_stations,)]
    mass_per_m : density over cross-section of the pipe at each place, [(n_places, n_members)]
    branch_k : gas in the first and second branch, then in those on the pipes that mirror theirs,
        [shape=(n_members, 2 or 4)]
    swept : share of the junction's correction that the stream takes away, [shape=(n_members,)]
    mouth_resistance : of branches there over rho c, [shape=(n_places, n_members, n_frequency)]
    neck_hotter_k : how much hotter than its can a neck is, [shape=(n_members,)]; zero, one for all,
        where nobody knows
    pipe_k : gas in the pipe at each place, than which none in a branch is hotter,
        [shape=(n_places, n_members)]; infinite, one for all, where ``branch_k`` heeds that already
    left_out_db : what the guesses do not tell of a change, [shape=(n_members,)]; zero, one for all,
        where they meet the drive as well as drives can be met
    other_way : what is heard that comes from no outlet, over what does, before any branch,
        [shape=(n_members, n_frequency)]; zero, one for all, where all comes from the outlets
    """

    frequency_hz: FloatArray
    near: BoolArray
    before_db: FloatArray
    stations: Stations
    places: Places
    pipe_bore_m: FloatArray
    mass_per_m: Floats
    branch_k: FloatArray
    swept: FloatArray
    mouth_resistance: Floats
    neck_hotter_k: FloatArray = field(default_factory=lambda: np.zeros(1))
    pipe_k: FloatArray = field(default_factory=lambda: np.full((1, 1), np.inf))
    left_out_db: FloatArray = field(default_factory=lambda: np.zeros(1))
    other_way: AnyComplexArray = field(default_factory=lambda: np.zeros((1, 1), np.complex64))

    def thinned(self, members: IntArray | slice, frequencies: IntArray | slice) -> ExhaustBench:
        """Keep some of the guesses and frequencies."""
        return replace(
            self,
            frequency_hz=self.frequency_hz[frequencies],
            near=self.near[:, frequencies],
            before_db=self.before_db[members][:, frequencies],
            places=self.places.thinned(members, frequencies),
            mass_per_m=self.mass_per_m[:, members],
            branch_k=self.branch_k[members],
            swept=self.swept[members],
            mouth_resistance=self.mouth_resistance[:, members][:, :, frequencies],
            neck_hotter_k=np.broadcast_to(self.neck_hotter_k, self.swept.shape)[members],
            pipe_k=np.broadcast_to(self.pipe_k, (self.places.duct.size, self.swept.size))[
                :, members
            ],
            left_out_db=np.broadcast_to(self.left_out_db, self.swept.shape)[members],
            other_way=np.broadcast_to(self.other_way, self.before_db.shape)[members][
                :, frequencies
            ],
        )

    def joined(self, other: ExhaustBench) -> ExhaustBench:
        """Put the guesses of a bench of the same places and frequencies behind these."""
        parts = [each.thinned(slice(None), slice(None)) for each in (self, other)]

        whole: dict[str, Any] = {
            name: np.concatenate([getattr(part, name) for part in parts], axis=axis)
            for name, axis in _MEMBERS_AXIS.items()
        }
        return replace(self, places=all_members([part.places for part in parts]), **whole)

    def silenced(self) -> Outcome:
        """Say what is left where no outlet lets out any sound, [shape=(1, n_members)]."""
        # of what the outlets let out nothing; what comes another way stays as it was
        left_db = 20.0 * np.log10(np.abs(self.other_way / (1.0 + self.other_way)) + SILENT)
        return outcome_between(self.before_db, (self.before_db + left_db)[None], self.parts)

    def outcome(self, trials: Trials) -> Outcome:
        """Work out what each trial does in every guess."""
        return Trier(self, trials.bore_m, trials.can).outcome(trials)

    def lost(self, trials: Trials) -> FloatArray:
        """Power before over after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.array(list(Trier(self, trials.bore_m, trials.can).lost(trials)))

    @property
    def parts(self) -> BoolArray:
        """What counts as each drone, then the rest, [shape=(n_drones + 1, n_frequency)]."""
        return np.vstack([self.near, ~self.near.any(axis=0)])

    @property
    def position_m(self) -> FloatArray:
        """Of each station, along its pipe."""
        return self.stations.position_m

    @property
    def precision(self) -> np.dtype[np.floating[Any]]:
        """Of all that is worked out on the bench."""
        return self.places.through.real.dtype

    def apart_m(self, one: IntArray, other: IntArray) -> FloatArray:
        """Distance between stations along their pipe; infinite if they are on different ones."""
        pipe, at_m = self.stations.pipe, self.position_m
        apart_m = np.abs(at_m[one] - at_m[other])
        return np.where(pipe[one] == pipe[other], apart_m, np.inf)

    def highest_db(self, part: BoolArray) -> FloatArray:
        """Highest level before at these frequencies, [shape=(n_members,)]; 0 of none."""
        return np.asarray(self.before_db[:, part].max(axis=-1) if part.any() else 0.0)

    def after_db(self, trials: Trials) -> FloatArray:
        """Level after, [shape=(n_trials, n_members, n_frequency)]."""
        return np.asarray(self.before_db - 10.0 * np.log10(self.lost(trials)))
