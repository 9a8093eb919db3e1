"""Branches as they were welded on."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.acoustics.branch_shape import BranchShape
from analysis.branches import Can, Sizing
from analysis.errors import SizingError

_AS_TOLD = 0.03  # of the length; judgement: a saw and a tape; farther off, it was built otherwise


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltBranch:
    """A branch as it was welded on, and the frequency that it should work at.

    ``length_m``, ``end_correction_m``, ``can``, ``position_m`` and ``legs`` are as in
    :class:`analysis.branches.Branch`.
    """

    length_m: float
    end_correction_m: float
    bore_m: float
    wanted_hz: float
    can: Can | None = None
    position_m: float | None = None
    legs: tuple[str, ...] = ()

    def tuned_hz(self, temperature_k: float) -> float:
        """Where it works with gas of this temperature."""
        return self._shape.tuned_hz(self.length_m + self.end_correction_m, temperature_k)

    def right_length_m(self, temperature_k: float) -> float:
        """How long it should be with gas of this temperature."""
        return self._shape.acoustic_m(self.wanted_hz, temperature_k) - self.end_correction_m

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


def sized_branches(sizing: Sizing) -> SizedBranches:
    """Take from a sizing what was to be built."""
    return SizedBranches(
        engine_order=sizing.target.engine_order,
        peak_hz=sizing.target.peak_hz,
        gas_k=sizing.branches[0].gas_temperature_k,
        branches=tuple(
            BuiltBranch(
                length_m=branch.length_m,
                end_correction_m=branch.end_correction_m,
                bore_m=branch.tube.inner_diameter_m,
                wanted_hz=branch.tuned_hz,
                can=branch.can,
                position_m=branch.position_m,
                legs=branch.legs,
            )
            for branch in sizing.branches
        ),
    )


def nearest_in_length(sized: SizedBranches, lengths_m: Sequence[float]) -> SizedBranches:
    """Keep the one of two branches that a single length was built from; all of them otherwise."""
    if len(lengths_m) != 1:
        return sized
    one = min(sized.branches, key=lambda branch: abs(math.log(branch.length_m / lengths_m[0])))
    return replace(sized, branches=(one,))


def built_branches(sized: SizedBranches, lengths_m: Sequence[float]) -> tuple[BuiltBranch, ...]:
    """Take the branches as sized; the lengths are those really built, or none if as sized.

    A single branch should work at the drone's peak, two each at their own frequency. One that was
    chosen with its place, where the rest of the exhaust counts too, keeps its own frequency if it
    was built as told.

    Raises
    ------
    SizingError
        There are more or fewer lengths than branches.
    """
    branches = sized.branches
    if lengths_m and len(lengths_m) != len(branches):
        raise SizingError(
            f"{len(lengths_m)} built lengths are given, but {len(branches)} branches were sized; "
            "say --built once for each branch, or --branches with their number"
        )
    built = (
        replace(branch, length_m=length_m, wanted_hz=_wanted_hz(sized, branch, length_m))
        for branch, length_m in zip(
            branches, lengths_m or [branch.length_m for branch in branches], strict=True
        )
    )
    return tuple(_plain_if_so_long(branch, sized.gas_k) for branch in built)


def _plain_if_so_long(built: BuiltBranch, gas_k: float) -> BuiltBranch:
    """Take it as a plain branch where its length says so: one with a can is about half as long."""
    # somebody may have built plain tube where a can was told, and says only its length
    plain = replace(built, can=None)
    return min(built, plain, key=lambda b: abs(math.log(b.tuned_hz(gas_k) / b.wanted_hz)))


def _wanted_hz(sized: SizedBranches, branch: BuiltBranch, built_m: float) -> float:
    as_told = abs(built_m / branch.length_m - 1.0) < _AS_TOLD
    if len(sized.branches) == 2 or (branch.position_m is not None and as_told):
        return branch.wanted_hz
    return sized.peak_hz
