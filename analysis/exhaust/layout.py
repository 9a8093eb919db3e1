"""How the pieces of an exhaust lie between the nodes where its pipes meet."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from analysis.basics.arrays import FloatArray, IntArray
from analysis.exhaust.line import ExhaustLine, Pieces

_Key: TypeAlias = tuple[str, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Pieces in a row, up to ``stop`` and without it, between two nodes; none branches off."""

    start: int
    end: int
    first: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Runs of pieces between nodes.

    Attributes
    ----------
    sources : node and first piece of each bank's pipe, in the order of the banks
    open_ends : node and last piece of each open end, in the order of the pipes
    before : number of the piece that each goes on from; -1 at a source, where more than two meet,
        and in a crossover's tube
    flow_share : part of the engine's gas that streams through each piece; none in a crossover's
        tube
    """

    pieces: Pieces
    runs: tuple[Run, ...]
    sources: tuple[tuple[int, int], ...]
    open_ends: tuple[tuple[int, int], ...]
    before: IntArray
    flow_share: FloatArray

    @property
    def line(self) -> ExhaustLine:
        """The exhaust that is laid out."""
        return self.pieces.line

    def where(self, piece: int) -> tuple[int, int]:
        """Which run a piece is in, and how many of its pieces come before."""
        number = next(n for n, run in enumerate(self.runs) if run.first <= piece < run.stop)
        return number, piece - self.runs[number].first


class _Nodes:
    """Names of points of the exhaust; those that are joined are one node."""

    def __init__(self) -> None:
        self._same: dict[_Key, _Key] = {}
        self._numbers: dict[_Key, int] = {}

    def join(self, one: _Key, other: _Key) -> None:
        # the one hangs on the other, however many were joined to either before
        self._same[self._root(one)] = self._root(other)

    def number(self, key: _Key) -> int:
        # numbered when first asked for, so that joined names leave no holes
        return self._numbers.setdefault(self._root(key), len(self._numbers))

    def _root(self, key: _Key) -> _Key:
        while (above := self._same.get(key, key)) != key:
            key = above
        return key


def lay_out(pieces: Pieces) -> Layout:
    """Put nodes where pipes start, end and cross, and runs of pieces between them."""
    line = pieces.line
    own = (np.flatnonzero(pieces.pipe == number) for number in range(len(line.pipes)))
    ends = [(int(each[0]), int(each[-1]) + 1) for each in own]
    nodes = _Nodes()
    for number, each in enumerate(line.pipes):
        for feed in each.feeds:
            nodes.join(("start", number, 0), ("end", feed, 0))
        if each.source is not None:
            nodes.join(("start", number, 0), ("bank", each.source, 0))
    for number, crossover in enumerate(line.crossovers):
        if crossover.tube is None:
            nodes.join(("crossover", number, 0), ("crossover", number, 1))
    spans = [*_pipe_spans(pieces, ends, nodes), *_tube_spans(pieces)]
    banks = {p.source: ends[n][0] for n, p in enumerate(line.pipes) if p.source is not None}
    shares = _flow_shares(line)
    return Layout(
        pieces=pieces,
        runs=tuple(
            Run(start=nodes.number(a), end=nodes.number(b), first=first, stop=stop)
            for a, b, first, stop in spans
        ),
        sources=tuple((nodes.number(("bank", bank, 0)), banks[bank]) for bank in sorted(banks)),
        open_ends=tuple((nodes.number(("end", n, 0)), ends[n][1] - 1) for n in line.open_pipes),
        before=_before(pieces, ends),
        flow_share=np.array([*shares, 0.0])[pieces.pipe],
    )


def _pipe_spans(
    pieces: Pieces, ends: list[tuple[int, int]], nodes: _Nodes
) -> Iterator[tuple[_Key, _Key, int, int]]:
    """Each pipe from joint to joint; a joint at a pipe's own end is that end."""
    for number, (first, stop) in enumerate(ends):
        here: _Key = ("start", number, 0)
        for piece, joint in sorted(_joints(pieces, number, stop)):
            if piece == first:
                nodes.join(joint, here)
            elif piece == stop:
                nodes.join(joint, ("end", number, 0))
            else:
                yield here, joint, first, piece
                here, first = joint, piece
        yield here, ("end", number, 0), first, stop


def _joints(pieces: Pieces, pipe: int, stop: int) -> Iterator[tuple[int, _Key]]:
    for number, crossover in enumerate(pieces.line.crossovers):
        for side in (0, 1):
            if crossover.pipes[side] == pipe:
                section, share = pieces.line.spot(pipe, crossover.at_m[side])
                # at the very end of a pipe no piece begins: there its pieces stop
                piece = pieces.at(section, share) if share < 1.0 - 1e-9 else stop
                yield piece, ("crossover", number, side)


def _tube_spans(pieces: Pieces) -> Iterator[tuple[_Key, _Key, int, int]]:
    line = pieces.line
    with_tube = (n for n, crossover in enumerate(line.crossovers) if crossover.tube is not None)
    for section, number in enumerate(with_tube, start=int(line.firsts[-1])):
        inside = np.flatnonzero(pieces.section == section)
        key = ("crossover", number, 0), ("crossover", number, 1)
        yield *key, int(inside[0]), int(inside[-1]) + 1


def _before(pieces: Pieces, ends: list[tuple[int, int]]) -> IntArray:
    before = np.arange(pieces.pipe.size) - 1
    before[pieces.pipe == len(pieces.line.pipes)] = -1
    for number, (first, _) in enumerate(ends):
        ahead = _in_a_row(pieces.line, number)
        before[first] = -1 if ahead is None else ends[ahead][1] - 1
    return before


def _in_a_row(line: ExhaustLine, pipe: int) -> int | None:
    """Find the pipe that goes on in this one, and in no other; None of none."""
    feeds = line.pipes[pipe].feeds
    if len(feeds) != 1 or len(line.following(feeds[0])) != 1:
        return None
    return feeds[0]


def _flow_shares(line: ExhaustLine) -> list[float]:
    """Of each pipe: what its bank sends, or its feeds bring, evenly over the pipes behind."""
    shares: list[float] = []
    for pipe in line.pipes:
        beside = [p for p in line.pipes if p.feeds == pipe.feeds and p.source == pipe.source]
        brought = sum(shares[feed] for feed in pipe.feeds)
        sent = 0.0 if pipe.source is None else 1.0 / line.n_sources
        shares.append((brought + sent) / len(beside))
    return shares
