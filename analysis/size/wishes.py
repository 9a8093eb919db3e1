"""What somebody wishes of a sizing, beyond what the drive and the car file say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from analysis.basics.interval import Interval
from analysis.branches import Target, Tube
from analysis.errors import QuantityError
from analysis.exhaust.line import ExhaustLine
from analysis.size.request import SizingRequest

_WIDEST = 0.6  # of the peak's frequency; judgement: beyond it, it is no resonance


class WidthUnit(Enum):
    """What the width of a drone may be given in; the last is a share of its frequency."""

    HZ = "Hz"
    RPM = "rpm"
    PERCENT = "%"


@dataclass(frozen=True, slots=True, kw_only=True)
class DroneWidth:
    """Distance between the half-power points of a drone, as somebody read it off."""

    value: float
    unit: WidthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeWishes:
    """What is wished; None, or no tubes, where nobody said.

    Attributes
    ----------
    band : which of the drones that were found, from 1; None takes the worst
    branch_count : 1, 2, or None to choose
    cans : whether a branch may have a can on a neck where plain tube does not do
    tubes : what a branch may be made of
    branch_gas_k, pipe_gas_k : gas temperature in the branch, and in the pipe beside it
    branch_gas_said_by : where the first of them is from, in words
    width : instead of the width that was found, or assumed
    """

    band: int | None = None
    branch_count: int | None = None
    cans: bool = True
    tubes: tuple[Tube, ...] = ()
    pipe_inner_diameter_m: float | None = None
    longest_branch_m: float | None = None
    branch_gas_k: Interval | None = None
    branch_gas_said_by: str = "as given"
    pipe_gas_k: Interval | None = None
    width: DroneWidth | None = None


def with_wishes(request: SizingRequest, wishes: SizeWishes) -> SizingRequest:
    """Let the wishes overrule the request.

    Raises
    ------
    QuantityError
        A width that no drone has.
    """
    gas_k = wishes.branch_gas_k
    return replace(
        request,
        line=None if request.line is None else _wished_line(request.line, wishes),
        branch_count=wishes.branch_count or request.branch_count,
        pipe_inner_diameter_m=wishes.pipe_inner_diameter_m or request.pipe_inner_diameter_m,
        longest_branch_m=wishes.longest_branch_m or request.longest_branch_m,
        branch_gas_k=gas_k or request.branch_gas_k,
        branch_gas_said_by=wishes.branch_gas_said_by if gas_k else request.branch_gas_said_by,
        pipe_gas_k=wishes.pipe_gas_k or request.pipe_gas_k,
        tubes=wishes.tubes or request.tubes,
        cans=wishes.cans and request.cans,
        target=_widened(request.target, wishes.width) if wishes.width else request.target,
    )


def _wished_line(line: ExhaustLine, wishes: SizeWishes) -> ExhaustLine:
    """Let the wishes overrule the bore of every pipe of the line, and the gas beside a branch."""
    if wishes.pipe_inner_diameter_m is not None:
        line = line.with_bore(wishes.pipe_inner_diameter_m)
    return replace(line, beside_branch_k=wishes.pipe_gas_k) if wishes.pipe_gas_k else line


def _widened(target: Target, width: DroneWidth) -> Target:
    width_hz = _width_hz(width, target)
    if not 0.0 < width_hz <= _WIDEST * target.peak_hz:
        raise QuantityError(
            f"a width of {width.value:g} {width.unit.value} must be more than nothing and at most "
            f"{100 * _WIDEST:.0f} % of the drone's frequency; it is the distance of the "
            "half-power points"
        )
    half_hz = width_hz / 2.0
    return replace(target, low_hz=target.peak_hz - half_hz, high_hz=target.peak_hz + half_hz)


def _width_hz(width: DroneWidth, target: Target) -> float:
    if width.unit is WidthUnit.HZ:
        return width.value
    if width.unit is WidthUnit.PERCENT:
        return width.value * target.peak_hz / 100.0
    if target.engine_order is None:
        raise QuantityError("a width in rpm needs the engine order; give it in Hz")
    return width.value * target.engine_order / 60.0
