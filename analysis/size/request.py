"""What ``size`` is asked: the drone, the pipe, the gas and the room, from wherever it is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, replace

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.branches import Target, Tube
from analysis.describe.odd import odd_in
from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.exhaust.line import ExhaustLine
from analysis.exhaust.pipes import doubts_of_pipes, exhaust_line
from analysis.findings import Doubt, TailSound
from analysis.size.wishes import BranchWishes
from analysis.words.lengths import diameter
from analysis.words.quantities import temperature_both, temperature_step

# judgement: gas from collector to outlet when only one end's temperature is known, and its limits,
# within Heywood (1988), from memory. Stated as an assumption with the answer.
_DROP_ALONG_K = 250.0
_COOLEST_OUTLET_K = 393.15
_HOTTEST_INLET_K = 973.15
_AIR_K = 293.15  # judgement: a mild day's air; exhaust gas told no warmer is a slip, and refused


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLevels:
    """The drone's order over engine speed without background; arrays [shape=(n,)], rpm rising."""

    rpm: FloatArray
    level_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingRequest(BranchWishes):
    """All that ``size`` works from; None where nobody said.

    Attributes
    ----------
    others : further drones of the same order, measured with it, that the same branches are to cure
    line : the whole exhaust, where its lengths are known; then the places come out too
    notes : assumptions already made while the request was put together
    doubts : warnings that the car file itself raises
    """

    target: Target
    others: tuple[Target, ...] = ()
    levels: OrderLevels | None = None
    tail: TailSound | None = None
    driving_range_rpm: tuple[float, float] | None = None
    line: ExhaustLine | None = None
    notes: tuple[str, ...] = ()
    doubts: tuple[Doubt, ...] = ()


def with_car(request: SizingRequest, car: Car) -> SizingRequest:
    """Fill in from the car file what was not wished otherwise.

    What was driven stands for where the car is driven, unless the car file says so.

    Raises
    ------
    SizingError
        Every tube is wider than the car file has room for; gas that cannot be; a driving range
        without the drone.
    """
    said_by = request.branch_gas_said_by if request.branch_gas_k else "as the car file says"
    filled = replace(
        request,
        branch_gas_k=request.branch_gas_k or car.branch_gas_k,
        branch_gas_said_by=said_by,
        driving_range_rpm=car.driving_range_rpm or request.driving_range_rpm,
        longest_branch_m=request.longest_branch_m or car.longest_branch_m,
        tubes=_narrow_enough(request.tubes, car.widest_branch_m),
        line=exhaust_line(car, request.pipe_inner_diameter_m),
        doubts=(*doubts_of_pipes(car), *odd_in(car)),
    )
    _refuse_impossible_gas(car, filled.branch_gas_k)
    _refuse_range_without_drone(filled)
    driven = filled.driving_range_rpm
    filled = replace(filled, others=tuple(each for each in filled.others if _is_in(driven, each)))
    if filled.line is not None or filled.pipe_gas_k is not None:
        return filled
    return _with_pipe_gas(filled, car.inlet_gas_k, car.outlet_gas_k)


def _refuse_impossible_gas(car: Car, branch_k: Interval | None) -> None:
    """Gas is hotter than air, and only cools on its way into a branch."""
    inlet_k, outlet_k = car.inlet_gas_k, car.outlet_gas_k
    for where, gas_k in (("collector", inlet_k), ("outlet", outlet_k), ("branch", branch_k)):
        if gas_k is not None and gas_k.high < _AIR_K:
            raise SizingError(
                f"the gas at the {where} is told at most {temperature_both(gas_k.high)}, which is "
                "no warmer than air, and exhaust gas is; check the gas temperatures"
            )
    if inlet_k is not None and branch_k is not None and branch_k.low > inlet_k.high:
        raise SizingError(
            f"the gas in a branch, {temperature_both(branch_k.low)}, cannot be hotter than at the "
            f"collector, {temperature_both(inlet_k.high)}; check the gas temperatures"
        )


def _refuse_range_without_drone(request: SizingRequest) -> None:
    target, driven = request.target, request.driving_range_rpm
    rpm = target.rpm(target.peak_hz)
    if driven is None or rpm is None or _is_in(driven, target):
        return
    raise SizingError(
        f"the drone at {rpm:,.0f} rpm is not in the driving range, {driven[0]:,.0f} to "
        f"{driven[1]:,.0f} rpm; correct driving_range_rpm in the car file, or choose another drone"
    )


def _is_in(driven: tuple[float, float] | None, target: Target) -> bool:
    low, high = target.rpm(target.low_hz), target.rpm(target.high_hz)
    if driven is None or low is None or high is None:
        return True
    return low <= driven[1] and high >= driven[0]


def _narrow_enough(tubes: tuple[Tube, ...], widest_m: float | None) -> tuple[Tube, ...]:
    if widest_m is None:
        return tubes
    narrow = tuple(tube for tube in tubes if tube.is_within(widest_m))
    if not narrow:
        raise SizingError(
            f"no tube on offer fits widest_branch, {diameter(widest_m)}; give a smaller --tube"
        )
    return narrow


def _with_pipe_gas(
    request: SizingRequest, inlet: Interval | None, outlet: Interval | None
) -> SizingRequest:
    """Let the gas be as hot as anywhere between collector and outlet: the place is not known."""
    if inlet is not None and outlet is not None:
        return replace(request, pipe_gas_k=Interval(low=outlet.low, high=inlet.high))
    if inlet is not None:
        high_k = inlet.high
        # an inlet told cooler than any outlet stands: gas does not warm on its way
        low_k = min(max(inlet.low - _DROP_ALONG_K, _COOLEST_OUTLET_K), inlet.low)
    elif outlet is not None:
        low_k = outlet.low
        high_k = max(min(outlet.high + _DROP_ALONG_K, _HOTTEST_INLET_K), outlet.high)
    else:
        return request
    note = (
        "Gas: its temperature is given at one end of the exhaust only; a drop of "
        f"{temperature_step(_DROP_ALONG_K)} from the collector to the outlet is assumed."
    )
    return replace(
        request, pipe_gas_k=Interval(low=low_k, high=high_k), notes=(*request.notes, note)
    )
