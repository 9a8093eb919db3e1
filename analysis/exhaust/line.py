"""The exhaust as its owner knows it: pipes, crossovers, gas at the ends, room for branches."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.basics.arrays import BoolArray, FloatArray, IntArray
from analysis.basics.interval import Interval
from analysis.exhaust.firing import Firing
from analysis.exhaust.sections import KINDS, Section, pipe_beside_m

# A branch keeps this far from the ends of its pipe; judgement: a torch must get around it.
_CLEAR_OF_END_M = 0.05
# Half of the step between the places that are tried: a definition.
_NEAR_ENOUGH_M = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """One leg of the exhaust, from its start to its end.

    Attributes
    ----------
    name : None where the exhaust is one pipe
    feeds : numbers of the pipes that end where it starts
    source : number of the bank of cylinders that blows into its start; None of none
    places_m : where a branch may go, (from, to) from its start; empty is anywhere on a pipe
    twin : number of the pipe that it mirrors, measured once for both; None of none
    beside : number of the pipe that gets the same branches at the same places: its twin, or one
        nearly as long; None of none
    """

    name: str | None
    sections: tuple[Section, ...]
    feeds: tuple[int, ...] = ()
    source: int | None = None
    places_m: tuple[tuple[float, float], ...] = ()
    twin: int | None = None
    beside: int | None = None

    @property
    def length_m(self) -> float:
        """From its start to its end."""
        return sum(section.length_m for section in self.sections)


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossover:
    """What joins two pipes, ``at_m`` from the start of each; an X has no tube."""

    pipes: tuple[int, int]
    at_m: tuple[float, float]
    tube: Section | None


@dataclass(frozen=True, kw_only=True)
class ExhaustLine:
    """Pipes, upstream first, and what joins them; gas temperatures None where nobody said."""

    pipes: tuple[Pipe, ...]
    inlet_k: Interval | None
    outlet_k: Interval | None
    crossovers: tuple[Crossover, ...] = ()
    firing: Firing | None = None

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """Of all pipes one after the other, then the crossovers' tubes."""
        tubes = (crossover.tube for crossover in self.crossovers)
        return (*(s for pipe in self.pipes for s in pipe.sections), *(t for t in tubes if t))

    @cached_property
    def firsts(self) -> IntArray:
        """Number of each pipe's first section, then one past the last pipe's last."""
        counts = [len(pipe.sections) for pipe in self.pipes]
        return np.cumsum([0, *counts]).astype(np.int64)

    @cached_property
    def lengths_m(self) -> FloatArray:
        """Of each section."""
        return np.array([section.length_m for section in self.sections])

    @cached_property
    def bores_m(self) -> FloatArray:
        """Of each pipe, and of the pipe that leads into each muffler."""
        return _bores_m(self, upstream=True)

    @cached_property
    def outlet_bores_m(self) -> FloatArray:
        """Of each pipe, and of the pipe that leads out of each muffler."""
        return _bores_m(self, upstream=False)

    @property
    def starts_m(self) -> FloatArray:
        """Where each section begins, from the start of its pipe, or of its crossover."""
        ends = [np.cumsum([0.0, *(s.length_m for s in pipe.sections)])[:-1] for pipe in self.pipes]
        before = np.concatenate(ends)
        return np.concatenate([before, np.zeros(len(self.sections) - before.size)])

    @property
    def open_pipes(self) -> tuple[int, ...]:
        """Numbers of the pipes that end in open air."""
        feeding = {number for pipe in self.pipes for number in pipe.feeds}
        return tuple(number for number in range(len(self.pipes)) if number not in feeding)

    @property
    def n_sources(self) -> int:
        """How many banks blow into it on their own."""
        return len({pipe.source for pipe in self.pipes if pipe.source is not None})

    def start_m(self, pipe: int) -> float:
        """From the collector to the start of a pipe, the longest way."""
        return max(map(self.end_m, self.pipes[pipe].feeds), default=0.0)

    def end_m(self, pipe: int) -> float:
        """From the collector to the end of a pipe, the longest way."""
        return self.start_m(pipe) + self.pipes[pipe].length_m

    def pipe_named(self, names: Sequence[str]) -> int:
        """Find the pipe of the first of these names; the first pipe of none."""
        own = [pipe.name for pipe in self.pipes]
        return own.index(names[0]) if names and names[0] in own else 0

    def spot(self, pipe: int, at_m: float) -> tuple[int, float]:
        """Which section lies so far along a pipe, and which share of it lies before.

        A spot on a muffler is moved to its nearer end.
        """
        first, stop = self.firsts[pipe : pipe + 2]
        ends_m = np.cumsum(self.lengths_m[first:stop])
        # right: at a joint the section behind it counts
        section = int(np.searchsorted(ends_m, at_m, side="right").clip(0, ends_m.size - 1))
        share = float(1.0 - (ends_m[section] - at_m) / self.lengths_m[first + section])
        if not self.sections[first + section].kind.takes_branch and share < 1.0 - 1e-9:
            goes_on = share >= 0.5 and section + 1 < ends_m.size
            section, share = section + goes_on, 0.0
        return int(first) + section, share

    def following(self, pipe: int) -> list[int]:
        """Numbers of the pipes that a pipe feeds."""
        return [number for number, other in enumerate(self.pipes) if pipe in other.feeds]


def _bores_m(line: ExhaustLine, *, upstream: bool) -> FloatArray:
    bores = [s.inner_diameter_m for s in line.sections]
    for number, pipe in enumerate(line.pipes):
        way, before = _way_by(line, number)
        for rank, part in enumerate(pipe.sections):
            if not part.kind.takes_branch:
                beside = pipe_beside_m(way, before + rank, upstream=upstream)
                bores[line.firsts[number] + rank] = beside or part.inner_diameter_m
    return np.array(bores)


def _way_by(line: ExhaustLine, number: int) -> tuple[list[Section], int]:
    """Sections of one way through a pipe; how many of them come before it."""
    before, after = list[Section](), list[Section]()
    here = line.pipes[number]
    while here.feeds:
        here = line.pipes[here.feeds[0]]
        before = [*here.sections, *before]
    at = number
    while following := line.following(at):
        at = following[0]
        after += line.pipes[at].sections
    return [*before, *line.pipes[number].sections, *after], len(before)


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """A line cut in short pieces; arrays [shape=(n_pieces,)].

    ``section`` each belongs to; ``share`` of that section's length; ``start`` and ``middle`` as
    shares of the section before them, so that they hold for any length of it.
    """

    line: ExhaustLine
    section: IntArray
    share: FloatArray
    start: FloatArray
    middle: FloatArray

    def at(self, section: int, share: float) -> int:
        """Find the piece that starts there."""
        # section and share as one number, since a start is always below one
        away = np.abs(self.section + self.start - section - share)
        return int(away.argmin())

    @cached_property
    def pipe(self) -> IntArray:
        """Which pipe each lies on; numbers past the last pipe are crossovers' tubes."""
        return np.asarray(np.searchsorted(self.line.firsts, self.section, side="right") - 1)

    @cached_property
    def position_m(self) -> FloatArray:
        """Where each starts, along its pipe as its owner measured it."""
        inside_m = self.start * self.line.lengths_m[self.section]
        return np.asarray(self.line.starts_m[self.section] + inside_m)

    @cached_property
    def bore_m(self) -> FloatArray:
        """Inner diameter of the pipe; of a muffler, that of the pipe into it."""
        return np.asarray(self.line.bores_m[self.section])


def cut(line: ExhaustLine, longest_m: float, at: Sequence[tuple[int, float]] = ()) -> Pieces:
    """Cut every pipe in equal pieces no longer than ``longest_m``, and at some spots too.

    ``at`` are (pipe, distance from its start); where crossovers join, it is cut in any case. A
    muffler is one piece.
    """
    joints = (spot for c in line.crossovers for spot in zip(c.pipes, c.at_m, strict=True))
    more = [line.spot(pipe, at_m) for pipe, at_m in (*joints, *at)]
    starts, shares = [], []
    for number, part in enumerate(line.sections):
        # a hair less: 1.2 m are four pieces of 0.3 m, whatever the last digit says
        count = max(int(np.ceil(part.length_m / longest_m - 1e-9)), 1)
        count = count if part.kind.takes_branch else 1
        start, share = np.arange(count) / count, np.full(count, 1.0 / count)
        inside = [share for section, share in more if section == number]
        if inside and part.kind.takes_branch:
            # rounded, or a spot at a cut would make a piece of no length
            marks = np.unique(np.round([*start, *inside], 9))
            start = marks[marks < 1.0]
            share = np.diff(np.append(start, 1.0))
        starts.append(start)
        shares.append(share)
    start, share = np.concatenate(starts), np.concatenate(shares)
    return Pieces(
        line=line,
        section=np.repeat(np.arange(len(starts)), [each.size for each in starts]).astype(np.int64),
        share=share,
        start=start,
        middle=start + share / 2.0,
    )


def section_name(line: ExhaustLine, number: int) -> str:
    """Name a section of a pipe by its place in the car file: 'section 3 of the left pipe'."""
    pipe = int(np.searchsorted(line.firsts, number, side="right")) - 1
    whose = line.pipes[pipe].name
    of = "" if whose is None else f" of the {whose} pipe"
    return f"section {number - int(line.firsts[pipe]) + 1}{of}"


def on_pipe(pieces: Pieces) -> IntArray:
    """Numbers of the pieces at whose upstream end a branch could be welded on, room or not.

    None is upstream of a catalyst: law, and the sensors that watch it (42 U.S.C. 7522(a)(3), and
    the like elsewhere).
    """
    line = pieces.line
    lengths = line.lengths_m[pieces.section]
    from_start_m = pieces.start * lengths
    clear = np.minimum(from_start_m, lengths - from_start_m) >= _CLEAR_OF_END_M
    takes_branch = np.array([section.kind.takes_branch for section in line.sections])
    takes_branch[line.firsts[-1] :] = False  # no branch on a crossover's tube
    takes_branch &= ~_before_catalyst(line)
    return np.flatnonzero(clear & takes_branch[pieces.section]).astype(np.int64)


def _before_catalyst(line: ExhaustLine) -> BoolArray:
    """Mark the sections that the gas passes before a catalyst, whichever way it takes."""
    before = np.zeros(len(line.sections), dtype=np.bool_)
    # from the outlets: whether a catalyst follows is known once what follows is
    for number, pipe in reversed([*enumerate(line.pipes)]):
        ahead = any(
            before[line.firsts[n]] or _is_catalyst(line.pipes[n], 0) for n in line.following(number)
        )
        for rank in reversed(range(len(pipe.sections))):
            before[line.firsts[number] + rank] = ahead
            ahead = ahead or _is_catalyst(pipe, rank)
    return before


def _is_catalyst(pipe: Pipe, rank: int) -> bool:
    return pipe.sections[rank].kind is KINDS["catalyst"]


def has_room(line: ExhaustLine, pipe: int, position_m: float) -> bool:
    """Whether a position lies where a branch may go, or within a saw's width of it."""
    if not any(each.places_m for each in line.pipes):
        return True
    near_m = _NEAR_ENOUGH_M
    return any(
        start_m - near_m <= position_m <= end_m + near_m
        for start_m, end_m in line.pipes[pipe].places_m
    )


def into_room_m(line: ExhaustLine, pipe: int, position_m: float) -> float:
    """Move a position to the nearest one inside a place for branches."""
    places_m = line.pipes[pipe].places_m
    inside = [min(max(position_m, start), end) for start, end in places_m]
    return min(inside, key=lambda place: abs(place - position_m), default=position_m)
