"""Branches as they were welded on."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.acoustics.branch_shape import BranchShape
from analysis.branches import Branch, Can, Sizing, SlidingCap
from analysis.errors import SizingError
from analysis.words.lengths import length

_AS_TOLD = 0.03  # of the length; judgement: a saw and a tape; farther off, it was built otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class SleeveOut:
    """How far the sleeve of a sliding cap stands out of where it touches the tube's end."""

    out_m: float


AsBuilt = float | SleeveOut  # the length of a branch in m, or where its sleeve stands


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltBranch:
    """A branch as it was welded on, and the frequency that it should work at.

    ``length_m``, ``end_correction_m``, ``can``, ``position_m``, ``legs`` and ``cap`` are as in
    :class:`analysis.branches.Branch`; with a sliding cap, the length is what it sounds like.
    Along its middle a bent branch measures longer than it sounds, by ``bends_take_m``.
    """

    length_m: float
    end_correction_m: float
    bore_m: float
    wanted_hz: float
    can: Can | None = None
    position_m: float | None = None
    legs: tuple[str, ...] = ()
    cap: SlidingCap | None = None
    bends_take_m: float = 0.0

    def tuned_hz(self, temperature_k: float) -> float:
        """Where it works with gas of this temperature."""
        return self._shape.tuned_hz(self.length_m + self.end_correction_m, temperature_k)

    def right_length_m(self, temperature_k: float) -> float:
        """How long it should be with gas of this temperature."""
        return self._shape.acoustic_m(self.wanted_hz, temperature_k) - self.end_correction_m

    @property
    def tube_end_m(self) -> float:
        """How far from the datum its tube ends."""
        return self.length_m if self.cap is None else self.cap.reach_m.low

    @property
    def _shape(self) -> BranchShape:
        return BranchShape(bore_m=self.bore_m, junction_m=self.end_correction_m, can=self.can)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizedBranches:
    """What ``size`` said was to be built, against which drone; once for pipes that get the same.

    Each branch should work at its own frequency with gas of ``gas_k``; ``engine_order`` is None
    where only a frequency was known.
    """

    engine_order: float | None
    peak_hz: float
    gas_k: float
    branches: tuple[BuiltBranch, ...]
    kept: BuiltBranch | None = None  # a second one, at the place kept for it
    is_for_several: bool = False  # for all drones that trouble people, not for this one alone


@dataclass(frozen=True, slots=True, kw_only=True)
class WeldedOn:
    """What was built, and the branch that a place was kept for, if it was."""

    branches: tuple[BuiltBranch, ...] = ()
    kept: BuiltBranch | None = None


def sized_branches(sizing: Sizing) -> SizedBranches:
    """Take from a sizing what was to be built."""
    return SizedBranches(
        engine_order=sizing.target.engine_order,
        peak_hz=sizing.target.peak_hz,
        gas_k=sizing.branches[0].gas_temperature_k,
        branches=tuple(map(_as_sized, sizing.branches)),
        kept=None if sizing.kept is None else _as_sized(sizing.kept),
        is_for_several=any(other.is_planned_for for other in sizing.others),
    )


def _as_sized(branch: Branch) -> BuiltBranch:
    return BuiltBranch(
        length_m=branch.length_m,
        end_correction_m=branch.end_correction_m,
        bore_m=branch.tube.inner_diameter_m,
        wanted_hz=branch.tuned_hz,
        can=branch.can,
        position_m=branch.position_m,
        legs=branch.legs,
        cap=branch.cap,
    )


def nearest_in_length(sized: SizedBranches, told: Sequence[AsBuilt]) -> SizedBranches:
    """Keep the one of two branches that a single length was built from; all of them otherwise."""
    if len(told) != 1 or isinstance(length_m := told[0], SleeveOut):
        return sized
    one = min(sized.branches, key=lambda branch: abs(math.log(branch.length_m / length_m)))
    return replace(sized, branches=(one,))


def built_branches(sized: SizedBranches, told: Sequence[AsBuilt]) -> WeldedOn:
    """Take the branches as sized, and the kept place; told is what was really built, or nothing.

    A single branch should work at the drone's peak, two each at their own frequency. One that was
    chosen with its place, where the rest of the exhaust counts too, keeps its own frequency if it
    was built as told.

    Raises
    ------
    SizingError
        More or fewer are told than were sized, or a sleeve of a branch whose cap is fixed.
    """
    branches = sized.branches
    if told and len(told) != len(branches):
        raise SizingError(
            f"--built is given {len(told)} times, but {len(branches)} branches were sized; "
            "say it once for each branch, or --branches with their number"
        )
    built: list[BuiltBranch] = []
    as_built = told or [branch.length_m for branch in branches]
    for number, (branch, each) in enumerate(zip(branches, as_built, strict=True), start=1):
        if isinstance(each, SleeveOut):
            as_sized = _of_length(sized, branch, branch.length_m)
            built.append(_with_sleeve(number, as_sized, each.out_m))
        else:
            built.append(_of_length(sized, branch, each))
    return WeldedOn(branches=tuple(built), kept=sized.kept)


def _with_sleeve(number: int, branch: BuiltBranch, out_m: float) -> BuiltBranch:
    if branch.cap is None:
        raise SizingError(
            f"branch {number} was sized with a fixed cap, so it has no sleeve; say its length"
        )
    if not out_m <= branch.cap.sleeve_m:
        raise SizingError(
            f"the sleeve of branch {number} is {length(branch.cap.sleeve_m)} long, so it "
            f"cannot stand {length(out_m)} out"
        )
    return replace(branch, length_m=branch.cap.length_m(out_m))


def _of_length(sized: SizedBranches, branch: BuiltBranch, length_m: float) -> BuiltBranch:
    cap = branch.cap
    if cap is not None and not cap.reach_m.low <= length_m <= cap.reach_m.high:
        cap = None  # it was not cut for that sleeve
    wanted_hz = _wanted_hz(sized, branch, length_m)
    built = replace(branch, length_m=length_m, wanted_hz=wanted_hz, cap=cap)
    return _plain_if_so_long(built, sized.gas_k)


def _plain_if_so_long(built: BuiltBranch, gas_k: float) -> BuiltBranch:
    """Take it as a plain branch where its length says so: one with a can is about half as long."""
    # somebody may have built plain tube where a can was told, and says only its length
    plain = built if built.can is None else replace(built, can=None, cap=None)
    return min(built, plain, key=lambda b: abs(math.log(b.tuned_hz(gas_k) / b.wanted_hz)))


def _wanted_hz(sized: SizedBranches, branch: BuiltBranch, built_m: float) -> float:
    as_told = abs(built_m / branch.length_m - 1.0) < _AS_TOLD
    if len(sized.branches) == 2 or (branch.position_m is not None and as_told):
        return branch.wanted_hz
    return sized.peak_hz
