"""What somebody wishes of a sizing, beyond what the drive and the car file say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace
from enum import Enum

from analysis.basics.interval import Interval
from analysis.branches import Target, Tube
from analysis.errors import QuantityError
from analysis.exhaust.tube_stock import INCH_TUBES

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
class BranchWishes:
    """What is wished of the branches, and known of the place they go to; None where nobody said.

    Attributes
    ----------
    branch_count : 1, 2, or None to choose
    cans : whether a branch may have a can on a neck where plain tube does not do
    tubes : what a branch may be made of
    branch_gas_k, pipe_gas_k : gas temperature in the branch, and in the pipe beside it
    branch_gas_said_by : where the first of them is from, in words
    """

    branch_count: int | None = None
    cans: bool = True
    tubes: tuple[Tube, ...] = INCH_TUBES
    pipe_inner_diameter_m: float | None = None
    longest_branch_m: float | None = None
    branch_gas_k: Interval | None = None
    branch_gas_said_by: str = "as given"
    pipe_gas_k: Interval | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeWishes(BranchWishes):
    """What is wished of the branches, and of the drone they are for.

    Attributes
    ----------
    band : which of the drones that were found, from 1; None takes all that trouble people
    width : instead of the width that was found, or assumed
    """

    band: int | None = None
    width: DroneWidth | None = None


def widened(target: Target, width: DroneWidth) -> Target:
    """Give the drone this width, half to either side of its peak.

    Raises
    ------
    QuantityError
        A width that no drone has.
    """
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
