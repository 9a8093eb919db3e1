"""The exhaust as its owner knows it: sections, gas at the ends, room for branches."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.exhaust.pipes import pipes_of
from analysis.exhaust.sections import KINDS, Section, pipe_beside_m, too_narrow
from analysis.words.lengths import millimetres

# A branch keeps this far from the ends of its pipe; judgement: a torch must get around it.
_CLEAR_OF_END_M = 0.05
# Half of the step between the places that are tried: a definition.
_NEAR_ENOUGH_M = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class ExhaustLine:
    """Sections from the collector to the outlet; gas temperatures None where nobody said.

    ``places_m`` is where a branch may go, (from, to) along the line; empty is anywhere on a pipe.
    ``legs`` are the pipes that it stands for, alike; none where there is one pipe.
    """

    sections: tuple[Section, ...]
    inlet_k: Interval | None
    outlet_k: Interval | None
    places_m: tuple[tuple[float, float], ...]
    legs: tuple[str, ...] = ()

    @property
    def lengths_m(self) -> FloatArray:
        """Of each section."""
        return np.array([section.length_m for section in self.sections])

    @property
    def bores_m(self) -> FloatArray:
        """Of each pipe, and of the pipe that leads into each muffler."""
        return self._bores_m(upstream=True)

    @property
    def outlet_bores_m(self) -> FloatArray:
        """Of each pipe, and of the pipe that leads out of each muffler."""
        return self._bores_m(upstream=False)

    def _bores_m(self, *, upstream: bool) -> FloatArray:
        beside = [
            part.inner_diameter_m
            if part.kind.takes_branch
            else pipe_beside_m(self.sections, number, upstream=upstream)
            for number, part in enumerate(self.sections)
        ]
        return np.array(
            [
                bore or part.inner_diameter_m
                for bore, part in zip(beside, self.sections, strict=True)
            ]
        )

    @property
    def starts_m(self) -> FloatArray:
        """Where each section begins, from the collector."""
        return np.asarray(np.cumsum(self.lengths_m) - self.lengths_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """A line cut in short pieces; arrays [shape=(n_pieces,)].

    ``section`` each belongs to; ``share`` of that section's length; ``start`` and ``middle`` as
    shares of the section before them, so that they hold for any length of it.
    """

    section: IntArray
    share: FloatArray
    start: FloatArray
    middle: FloatArray


def exhaust_line(car: Car, pipe_inner_diameter_m: float | None = None) -> ExhaustLine | None:
    """Take the exhaust out of a car file; None when it gives no sections.

    Every pipe has ``pipe_inner_diameter_m`` if it is given; mufflers keep theirs.

    Raises
    ------
    SizingError
        As :func:`analysis.exhaust.pipes.pipes_of`, or pipes that are wider than a muffler.
    """
    pipes = pipes_of(car)
    if pipes is None:
        return None
    bore_m = pipe_inner_diameter_m
    sections = tuple(
        replace(part, inner_diameter_m=bore_m) if bore_m and part.kind.takes_branch else part
        for part in pipes.sections
    )
    if too_narrow(sections) is not None:
        raise SizingError(
            f"the pipe's inner diameter ({millimetres(bore_m or 0.0)}) leaves no room in the shell "
            "of a muffler beside it; check both"
        )
    return ExhaustLine(
        sections=sections,
        inlet_k=car.inlet_gas_k,
        outlet_k=car.outlet_gas_k,
        places_m=pipes.places_m,
        legs=pipes.legs,
    )


def cut(line: ExhaustLine, longest_m: float) -> Pieces:
    """Cut every pipe in equal pieces no longer than ``longest_m``; a muffler is one piece."""
    section, share, start = [], [], []
    for number, part in enumerate(line.sections):
        count = max(int(np.ceil(part.length_m / longest_m - 1e-9)), 1)
        count = count if part.kind.takes_branch else 1
        section += [number] * count
        share += [1.0 / count] * count
        start += [step / count for step in range(count)]
    shares = np.array(share)
    starts = np.array(start)
    return Pieces(
        section=np.array(section, dtype=np.int64),
        share=shares,
        start=starts,
        middle=starts + shares / 2.0,
    )


def cut_at(
    line: ExhaustLine, longest_m: float, position_m: Sequence[float]
) -> tuple[Pieces, IntArray]:
    """Cut as `cut` does, and at some positions too; give the numbers of the pieces there."""
    ends = np.cumsum(line.lengths_m)
    section = np.searchsorted(ends, position_m, side="right").clip(0, ends.size - 1)
    inside = 1.0 - (ends[section] - position_m) / line.lengths_m[section]
    takes_branch = np.array([part.kind.takes_branch for part in line.sections])
    # on a muffler is at its nearer end
    inside = np.where(takes_branch[section], inside, np.round(inside))
    even = cut(line, longest_m)
    marks = np.concatenate([even.section + even.start, section + inside])
    starts = np.unique(np.round(marks, 9))
    numbers = np.searchsorted(starts, np.round(section + inside, 9)).clip(0, starts.size - 1)
    of_section = np.floor(starts + 1e-9).astype(np.int64)
    start = np.asarray(starts - of_section, dtype=np.float64)
    share = np.diff(np.append(starts, len(line.sections)))
    return Pieces(section=of_section, share=share, start=start, middle=start + share / 2.0), numbers


def positions_m(line: ExhaustLine, pieces: Pieces) -> FloatArray:
    """Where the pieces start, along the line as its owner measured it."""
    inside_m = pieces.start * line.lengths_m[pieces.section]
    return np.asarray(line.starts_m[pieces.section] + inside_m)


def on_pipe(line: ExhaustLine, pieces: Pieces) -> IntArray:
    """Numbers of the pieces at whose upstream end a branch could be welded on, room or not.

    None is upstream of a catalyst: law, and the sensors that watch it (42 U.S.C. 7522(a)(3), and
    the like elsewhere).
    """
    lengths = line.lengths_m[pieces.section]
    from_start_m = pieces.start * lengths
    clear = np.minimum(from_start_m, lengths - from_start_m) >= _CLEAR_OF_END_M
    takes_branch = np.array([section.kind.takes_branch for section in line.sections])
    is_catalyst = np.array([section.kind is KINDS["catalyst"] for section in line.sections])
    takes_branch &= np.cumsum(is_catalyst[::-1])[::-1] == 0
    return np.flatnonzero(clear & takes_branch[pieces.section]).astype(np.int64)


def in_room(line: ExhaustLine, position_m: FloatArray) -> IntArray:
    """Numbers of the positions that lie where a branch may go, or within a saw's width of it."""
    if not line.places_m:
        return np.arange(position_m.size)
    near = [
        (position_m >= start - _NEAR_ENOUGH_M) & (position_m <= end + _NEAR_ENOUGH_M)
        for start, end in line.places_m
    ]
    return np.flatnonzero(np.any(near, axis=0)).astype(np.int64)


def into_room_m(line: ExhaustLine, position_m: float) -> float:
    """Move a position to the nearest one inside a place for branches."""
    inside = [min(max(position_m, start), end) for start, end in line.places_m]
    return min(inside, key=lambda place: abs(place - position_m), default=position_m)
