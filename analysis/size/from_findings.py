"""From what ``find`` found to what ``size`` is asked: which band, its levels, its driving range."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import fields

import numpy as np

from analysis.branches import Target
from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.findings import DroneBand, Findings, LockedTo, OrderCurve
from analysis.size.request import OrderLevels, SizingRequest, with_car
from analysis.size.wishes import BranchWishes, SizeWishes, widened

# judgement: half-power width over frequency when only a frequency is known, stated with the answer;
# outside the range nobody hears a drone, so it is refused.
_ASSUMED_WIDTH = 0.15
_DRONE_HZ = (15.0, 600.0)
_FEWEST_BINS = 8  # judgement: fewer do not show the shape of a drone; the width stands in
_NO_WISHES = SizeWishes()


def band_to_cure(findings: Findings, number: int | None = None) -> DroneBand | None:
    """Band that a branch is for: the worst that the road does not make, or the one asked for.

    Parameters
    ----------
    number : int or None
        Position in the list that ``find`` shows, counted from 1.

    Raises
    ------
    SizingError
        The drive gives no result, has no band of that number, or no branch will help against it.
    """
    if findings.withheld:
        raise SizingError(
            f"{findings.drive_name} gives no result, because {findings.withheld}; drive again, or "
            "size from a frequency you know with --hz"
        )
    if number is None:
        curable = (band for band in findings.bands if band.locked_to is not LockedTo.ROAD)
        return next(curable, None)
    if not 1 <= number <= len(findings.bands):
        raise SizingError(
            f"there is no band {number} in {findings.drive_name}, which has "
            f"{len(findings.bands)}; pipenote find lists them"
        )
    band = findings.bands[number - 1]
    if band.locked_to is LockedTo.ROAD:
        raise SizingError(
            f"band {number} of {findings.drive_name} follows road speed, so no branch will "
            "help; choose another --band, or leave it out"
        )
    return band


def request_for_band(
    findings: Findings, band: DroneBand, car: Car | None = None, wishes: SizeWishes = _NO_WISHES
) -> SizingRequest:
    """Ask for a branch against a band of a drive; what is wished overrules drive and car file.

    Raises
    ------
    AnalysisError
        A wish that cannot be met.
    """
    target = Target(
        engine_order=band.engine_order,
        peak_hz=band.peak_hz,
        low_hz=band.low_hz,
        high_hz=band.high_hz,
    )
    curve = findings.curve(band.engine_order)
    levels = None if curve is None else levels_from_curve(curve)
    return _request(target, levels, findings.driven_rpm, car, wishes)


def request_for_frequency(
    *,
    frequency_hz: float,
    engine_order: float | None,
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
) -> SizingRequest:
    """Ask for a branch against a frequency that somebody knows without a drive.

    Raises
    ------
    AnalysisError
        It is no drone's frequency, or a wish cannot be met.
    """
    return _request(target_from_frequency(frequency_hz, engine_order), None, None, car, wishes)


def _request(
    target: Target,
    levels: OrderLevels | None,
    driven_rpm: tuple[float, float] | None,
    car: Car | None,
    wishes: SizeWishes,
) -> SizingRequest:
    request = SizingRequest(
        target=target if wishes.width is None else widened(target, wishes.width),
        levels=levels,
        driving_range_rpm=driven_rpm,
        **{each.name: getattr(wishes, each.name) for each in fields(BranchWishes)},
    )
    return request if car is None else with_car(request, car)


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
    """Fitted level of an order in each rpm bin, sweeps averaged; None with fewer than 8 bins."""
    known = np.isfinite(curve.fitted_db) & (curve.seconds > 0.0)
    bins, where = np.unique(curve.bin_index[known], return_inverse=True)
    if bins.size < _FEWEST_BINS:
        return None
    weight = curve.seconds[known]
    total = np.bincount(where, weights=weight)
    return OrderLevels(
        # the mean of what was driven in a bin, which need not be its middle
        rpm=np.bincount(where, weights=weight * curve.rpm[known]) / total,
        level_db=np.bincount(where, weights=weight * curve.fitted_db[known]) / total,
    )
