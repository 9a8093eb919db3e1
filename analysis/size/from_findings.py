"""From what ``find`` found to what ``size`` is asked: which band, its levels, its driving range."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.findings import DroneBand, Findings, LockedTo
from analysis.size.request import (
    SizingRequest,
    levels_from_curve,
    target_from_band,
    target_from_frequency,
    with_car,
)


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
            f"band {number} of {findings.drive_name} keeps step with road speed, so no branch will "
            "help; choose another --band, or leave it out"
        )
    return band


def request_for_band(findings: Findings, band: DroneBand, car: Car | None) -> SizingRequest:
    """Ask for a branch against a band of a drive."""
    curve = findings.curve(band.engine_order)
    # What was driven stands for where the car is driven, unless its owner said so.
    own_range = None if car is None else car.driving_range_rpm
    request = SizingRequest(
        target=target_from_band(band),
        levels=None if curve is None else levels_from_curve(curve),
        driving_range_rpm=own_range or findings.driven_rpm,
    )
    return request if car is None else with_car(request, car)


def request_for_frequency(
    *, frequency_hz: float, engine_order: float | None, car: Car | None
) -> SizingRequest:
    """Ask for a branch against a frequency that somebody knows without a drive.

    Raises
    ------
    SizingError
        It is no drone's frequency.
    """
    request = SizingRequest(target=target_from_frequency(frequency_hz, engine_order))
    return request if car is None else with_car(request, car)
