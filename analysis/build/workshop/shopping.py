"""What to buy for all branches on all pipes: tube in lengths as sold, bends, discs and sleeves."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from analysis.basics.units import INCH_M
from analysis.branches import Tube
from analysis.build.workshop.plan import BranchPlan, BuildPlan

# of tube for each piece: a saw cut and its cleaning; judgement: tube to buy, no piece changes
_KERF_M = 0.005
# Lengths of straight tube in shops and at the mill: common practice, no source. They only say how
# much is left over.
_STOCK_M = (0.5, 1.0, 2.0, 3.0, 6.0)
_STOCK_FT = (2.0, 4.0, 5.0, 10.0, 20.0)
FOOT_M = 12.0 * INCH_M
_CLAMPS = 2  # on each sleeve; common practice, no source
_SUPPORTED_M = 0.5  # a longer branch, as the order of work says; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One length of tube as sold, and the pieces that are sawn from it, cuts not counted."""

    length_m: float
    pieces_m: tuple[float, ...]

    @property
    def left_m(self) -> float:
        """What is over, cuts taken off."""
        return self.length_m - _needs_m(self.pieces_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeToBuy:
    """Straight tube of one size, or sleeves that slide on it, in lengths as sold."""

    tube: Tube
    bars: tuple[Bar, ...]
    in_feet: bool  # how it is sold

    @property
    def bought_m(self) -> float:
        """All lengths together."""
        return sum(bar.length_m for bar in self.bars)

    @property
    def left_m(self) -> float:
        """What is over of all of them."""
        return sum(bar.left_m for bar in self.bars)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A kind of mandrel bend."""

    tube: Tube
    turn_rad: float
    radius_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A kind of flat disc; ``hole_m`` is None for plain ones."""

    across_m: float
    hole_m: float | None
    on_sleeve: bool  # as wide as the sleeve's outside, which is to be measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """Everything to buy but welding wire; of bends and discs how many of each kind."""

    tubes: tuple[TubeToBuy, ...]
    sleeves: tuple[TubeToBuy, ...]
    bends: Mapping[Bend, int]
    discs: Mapping[Disc, int]
    clamps: int
    supports: int


def shopping(build: BuildPlan) -> Shopping:
    """Add up what every branch needs, as often as it is welded."""
    every = [plan for plan in build.branches for _ in range(plan.branch.welds)]
    sleeves = [(plan.capped_tube, plan.cap.sleeve_m) for plan in every if plan.cap is not None]
    return Shopping(
        tubes=tuple(_by_size(_straight(every))),
        sleeves=tuple(_by_size(sleeves)),
        bends=Counter(_bends(every)),
        discs=Counter(_discs(every)),
        clamps=_CLAMPS * len(sleeves),
        supports=sum(plan.centreline_m > _SUPPORTED_M for plan in every),
    )


def _straight(every: Sequence[BranchPlan]) -> Iterator[tuple[Tube, float]]:
    """Give every straight piece as it is sawn, before its saddle is cut."""
    for plan in every:
        yield plan.branch.tube, plan.first_blank_m
        yield from ((plan.branch.tube, straight_m) for straight_m in plan.fold.straight_m[1:])
        if plan.can is not None:
            yield plan.can.tube, plan.can.length_m


def _by_size(pieces: Iterable[tuple[Tube, float]]) -> Iterator[TubeToBuy]:
    lengths_m: dict[Tube, list[float]] = {}
    for tube, length_m in pieces:
        lengths_m.setdefault(tube, []).append(length_m)
    for tube in sorted(lengths_m, key=lambda each: each.outer_diameter_m):
        # a shop that names tube in millimetres sells it by the metre
        in_feet = "mm" not in tube.name
        sold_m = tuple(FOOT_M * feet for feet in _STOCK_FT) if in_feet else _STOCK_M
        yield TubeToBuy(tube=tube, bars=_bars(lengths_m[tube], sold_m), in_feet=in_feet)


def _bends(every: Sequence[BranchPlan]) -> Iterator[Bend]:
    for plan in every:
        for turn_rad in plan.fold.turn_rad:
            turn_rad, radius_m = round(abs(turn_rad), 6), round(plan.fold.bend_radius_m, 6)
            yield Bend(tube=plan.branch.tube, turn_rad=turn_rad, radius_m=radius_m)


def _discs(every: Sequence[BranchPlan]) -> Iterator[Disc]:
    """Fronts of cans, and caps: on the tube's end, in its sleeve, or on the sleeve of a can."""
    for plan in every:
        across_m = plan.capped_tube.outer_diameter_m
        if plan.can is not None:
            hole_m = plan.branch.tube.outer_diameter_m
            yield Disc(across_m=across_m, hole_m=hole_m, on_sleeve=False)
        on_sleeve = plan.can is not None and plan.cap is not None
        yield Disc(across_m=across_m, hole_m=None, on_sleeve=on_sleeve)


def _bars(lengths_m: Sequence[float], sold_m: Sequence[float]) -> tuple[Bar, ...]:
    """Saw them from lengths as sold so that little is bought; a longer piece gets its own."""
    choices = [_packed(lengths_m, longest_m, sold_m) for longest_m in sold_m]
    return min(choices, key=lambda bars: (round(sum(b.length_m for b in bars), 4), len(bars)))


def _packed(
    lengths_m: Sequence[float], longest_m: float, sold_m: Sequence[float]
) -> tuple[Bar, ...]:
    """Fill lengths of at most ``longest_m``, the longest piece first, each where it fits first."""
    groups: list[list[float]] = []
    for length_m in sorted(lengths_m, reverse=True):
        room = (group for group in groups if _needs_m([*group, length_m]) <= longest_m)
        if (group := next(room, None)) is None:
            groups.append(group := [])
        group.append(length_m)
    bars = []
    for group in groups:
        needed_m = _needs_m(group)
        sold = next((m for m in sold_m if m >= needed_m), needed_m)
        bars.append(Bar(length_m=sold, pieces_m=tuple(group)))
    return tuple(bars)


def _needs_m(pieces_m: Sequence[float]) -> float:
    return sum(pieces_m) + _KERF_M * len(pieces_m)
