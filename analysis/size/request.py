"""What ``size`` is asked: the drone, the pipe, the gas and the room, from wherever it is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.branches import Target, Tube
from analysis.errors import SizingError
from analysis.exhaust.car import Car, Section
from analysis.exhaust.line import ExhaustLine, exhaust_line
from analysis.exhaust.tube_stock import INCH_TUBES
from analysis.findings import DroneBand, OrderCurve

_ASSUMED_WIDTH = 0.15  # half-power width over frequency when only a frequency is known
_DROP_ALONG_K = 250.0  # collector to outlet, when only one end's gas temperature is known
_COOLEST_OUTLET_K = 393.15
_HOTTEST_INLET_K = 973.15
_DRONE_HZ = (15.0, 600.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLevels:
    """The drone's order over engine speed without background; arrays [shape=(n,)], rpm rising."""

    rpm: FloatArray
    level_db: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingRequest:
    """All that ``size`` works from; None where nobody said.

    Attributes
    ----------
    branch_gas_k, pipe_gas_k : gas temperature in the branch, and in the pipe beside it
    branch_gas_said_by : where the first of them is from, in words
    line : the whole exhaust, where its lengths are known; then the places come out too
    branch_count : 1, 2, or None to choose
    tubes : what the branch may be made of
    cans : whether it may have a can on a neck where plain tube does not do
    notes : assumptions already made while the request was put together
    """

    target: Target
    levels: OrderLevels | None = None
    driving_range_rpm: tuple[float, float] | None = None
    pipe_inner_diameter_m: float | None = None
    branch_gas_k: Interval | None = None
    branch_gas_said_by: str = "as given"
    pipe_gas_k: Interval | None = None
    line: ExhaustLine | None = None
    branch_count: int | None = None
    tubes: tuple[Tube, ...] = INCH_TUBES
    cans: bool = True
    longest_branch_m: float | None = None
    notes: tuple[str, ...] = ()


def target_from_band(band: DroneBand) -> Target:
    """Aim at a band that ``find`` found."""
    return Target(
        engine_order=band.engine_order,
        peak_hz=band.peak_hz,
        low_hz=band.low_hz,
        high_hz=band.high_hz,
    )


def target_from_frequency(peak_hz: float, engine_order: float | None = None) -> Target:
    """Aim at a frequency alone; the half-power width is then assumed to be 15 % of it.

    Raises
    ------
    SizingError
        Not a drone's frequency (15 to 600 Hz).
    """
    if not _DRONE_HZ[0] <= peak_hz <= _DRONE_HZ[1]:
        raise SizingError(
            f"a drone lies between {_DRONE_HZ[0]:g} and {_DRONE_HZ[1]:g} Hz, got {peak_hz:g} Hz; "
            "check the rpm and the order, or the frequency"
        )
    half = _ASSUMED_WIDTH * peak_hz / 2.0
    return Target(
        engine_order=engine_order, peak_hz=peak_hz, low_hz=peak_hz - half, high_hz=peak_hz + half
    )


def levels_from_curve(curve: OrderCurve) -> OrderLevels | None:
    """Fitted level of an order in each rpm bin, passes averaged; None with fewer than 8 bins."""
    known = np.isfinite(curve.fitted_db) & (curve.seconds > 0.0)
    bins, where = np.unique(curve.bin_index[known], return_inverse=True)
    if bins.size < 8:
        return None
    weight = curve.seconds[known]
    total = np.bincount(where, weights=weight)
    return OrderLevels(
        rpm=np.bincount(where, weights=weight * curve.rpm[known]) / total,
        level_db=np.bincount(where, weights=weight * curve.fitted_db[known]) / total,
    )


def with_car(request: SizingRequest, car: Car) -> SizingRequest:
    """Fill in from the car file what the request does not say itself.

    Raises
    ------
    SizingError
        Every tube is wider than the car file has room for.
    """
    notes = list(request.notes)
    bore_m = request.pipe_inner_diameter_m
    if bore_m is None:
        bore_m = _pipe_bore_m(car, notes)
    pipe_gas_k = request.pipe_gas_k
    if pipe_gas_k is None:
        pipe_gas_k = _pipe_gas_k(car, notes)
    return replace(
        request,
        pipe_inner_diameter_m=bore_m,
        pipe_gas_k=pipe_gas_k,
        branch_gas_k=request.branch_gas_k or car.branch_gas_k,
        branch_gas_said_by=(
            request.branch_gas_said_by if request.branch_gas_k else "as the car file says"
        ),
        driving_range_rpm=request.driving_range_rpm or car.driving_range_rpm,
        longest_branch_m=request.longest_branch_m or car.longest_branch_m,
        tubes=_narrow_enough(request.tubes, car.widest_branch_m),
        line=exhaust_line(car),
        notes=tuple(notes),
    )


def _narrow_enough(tubes: tuple[Tube, ...], widest_m: float | None) -> tuple[Tube, ...]:
    if widest_m is None:
        return tubes
    narrow = tuple(tube for tube in tubes if tube.outer_diameter_m <= widest_m + 1e-6)
    if not narrow:
        raise SizingError(
            f"no tube on offer fits widest_branch, {1e3 * widest_m:.1f} mm; give a smaller --tube"
        )
    return narrow


def _pipe_bore_m(car: Car, notes: list[str]) -> float | None:
    """Bore of the pipe sections that a branch could sit on, weighted by length."""
    length_of: dict[float, float] = defaultdict(float)
    for section, start_m in _with_starts(car.sections):
        if section.kind.takes_branch:
            length_of[section.inner_diameter_m] += _in_places_m(car, start_m, section.length_m)
    if not any(length_of.values()):
        return None
    bore_m = max(length_of, key=lambda bore: length_of[bore])
    if sum(length > 0.0 for length in length_of.values()) > 1:
        notes.append(
            f"Pipe: more than one bore where a branch may go; sized for {1e3 * bore_m:.1f} mm, "
            "the longest of them."
        )
    return bore_m


def _pipe_gas_k(car: Car, notes: list[str]) -> Interval | None:
    """Gas over the places for a branch, falling in a straight line from collector to outlet."""
    inlet, outlet = car.inlet_gas_k, car.outlet_gas_k
    if inlet is None and outlet is None:
        return None
    if inlet is None or outlet is None:
        notes.append(
            "Gas: its temperature is given at one end of the exhaust only; "
            f"{_DROP_ALONG_K:.0f} K from the collector to the outlet assumed."
        )
    if inlet is None:
        inlet = _hotter(outlet)
    if outlet is None:
        outlet = _cooler(inlet)
    first, last = _hull_of_places(car)
    return Interval(
        low=inlet.low + last * (outlet.low - inlet.low),
        high=inlet.high + first * (outlet.high - inlet.high),
    )


def _hotter(outlet: Interval | None) -> Interval:
    high = _HOTTEST_INLET_K if outlet is None else outlet.high
    guess_k = max(min(high + _DROP_ALONG_K, _HOTTEST_INLET_K), high)
    return Interval(low=guess_k, high=guess_k)


def _cooler(inlet: Interval) -> Interval:
    guess_k = min(max(inlet.low - _DROP_ALONG_K, _COOLEST_OUTLET_K), inlet.low)
    return Interval(low=guess_k, high=guess_k)


def _hull_of_places(car: Car) -> tuple[float, float]:
    """First and last place for a branch, as shares of the pipe's length."""
    if not car.places_m or not car.sections:
        return 0.0, 1.0
    whole_m = car.pipe_length_m
    return (
        min(start for start, _ in car.places_m) / whole_m,
        min(max(end for _, end in car.places_m) / whole_m, 1.0),
    )


def _in_places_m(car: Car, start_m: float, length_m: float) -> float:
    if not car.places_m:
        return length_m
    return sum(
        max(0.0, min(to_m, start_m + length_m) - max(from_m, start_m))
        for from_m, to_m in car.places_m
    )


def _with_starts(sections: tuple[Section, ...]) -> list[tuple[Section, float]]:
    starts = np.cumsum([0.0, *(section.length_m for section in sections)])
    return [(section, float(start)) for section, start in zip(sections, starts, strict=False)]
