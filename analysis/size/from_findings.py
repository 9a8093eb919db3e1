"""From what ``find`` found to what ``size`` is asked: which bands, levels, driving range."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace

import numpy as np

from analysis.branches import Sizing, Target
from analysis.errors import SizingError
from analysis.exhaust.car import Car
from analysis.findings import Doubt, DroneBand, Findings, LockedTo, OrderCurve
from analysis.size.advice import DO_NOT_CUT, DRONE_LEFT, no_room
from analysis.size.request import OrderLevels, SizingRequest, with_car
from analysis.size.wishes import BranchWishes, SizeWishes, widened
from analysis.words.quantities import rpm as in_rpm
from analysis.words.sentences import listed

# judgement: half-power width over frequency when only a frequency is known, stated with the answer;
# outside the range nobody hears a drone, so it is refused.
_ASSUMED_WIDTH = 0.15
_DRONE_HZ = (15.0, 600.0)
_FEWEST_BINS = 8  # judgement: fewer do not show the shape of a drone; the width stands in
# judgement: how many drones are planned for together; one branch seldom serves three
_MOST_DRONES = 3
_NO_WISHES = SizeWishes()


def bands_to_cure(findings: Findings, number: int | None = None) -> tuple[DroneBand, ...]:
    """Bands that branches are for: the worst that the road does not make, or the one asked for.

    With the worst go those of the same order that another resonance makes: cured alone, it would
    leave them to be heard.

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
        return tuple(_troubling(findings))[:_MOST_DRONES]
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
    return (band,)


def _troubling(findings: Findings) -> Iterator[DroneBand]:
    """Give the worst, then the first of each other cause that is planned for with it."""
    curable = [band for band in findings.bands if band.locked_to is not LockedTo.ROAD]
    if not curable:
        return
    worst = curable[0]
    yield worst
    for _, bands in _by_cause(findings):
        alike = [band for band in bands if band.engine_order == worst.engine_order]
        if worst not in bands and alike:
            yield alike[0]


def _by_cause(findings: Findings) -> Iterator[tuple[int, list[DroneBand]]]:
    """Give the bands of each cause that is not the road, with the number of the first."""
    for cause in findings.causes:
        if cause.locked_to is not LockedTo.ROAD:
            yield cause.bands[0], [findings.bands[number - 1] for number in cause.bands]


def request_for_bands(
    findings: Findings,
    bands: Sequence[DroneBand],
    car: Car | None = None,
    wishes: SizeWishes = _NO_WISHES,
) -> SizingRequest:
    """Ask for branches against bands of a drive, the worst first; wishes overrule drive and car.

    Raises
    ------
    AnalysisError
        A wish that cannot be met.
    """
    worst, *others = map(_target, bands)
    curve = findings.curve(bands[0].engine_order)
    levels = None if curve is None else levels_from_curve(curve)
    together = tuple(each for each in others if _holds(levels, each))
    request = _request(worst, together, levels, findings.driven_rpm, car, wishes)
    return replace(request, tail=findings.at_tail(bands[0].engine_order))


def with_orders_left(sizing: Sizing, findings: Findings) -> Sizing:
    """Say which drones of other orders, of another cause, these branches are not for."""
    order, aimed_hz = sizing.target.engine_order, {each.peak_hz for each in sizing.targets}
    left = [
        (number, bands[0])
        for number, bands in _by_cause(findings)
        if bands[0].engine_order != order and not aimed_hz & {band.peak_hz for band in bands}
    ]
    misfit = no_room(sizing)
    if order is None or not left or (misfit is not None and misfit.code in DO_NOT_CUT):
        return sizing
    drones = listed([f"order {band.engine_order:g} at {in_rpm(band.peak_rpm)}" for _, band in left])
    numbers = listed([f"--band {number}" for number, _ in left], last="or")
    doubt = Doubt(
        code=DRONE_LEFT,
        message=f"These branches are for order {order:g} alone, not for {drones}: what they do "
        "there is not worked out. Build and prove these first. If the next drive still drones "
        f"there, size for that with {numbers}, and leave these as they are.",
    )
    return replace(sizing, warnings=(*sizing.warnings, doubt))


def _target(band: DroneBand) -> Target:
    return Target(
        engine_order=band.engine_order,
        peak_hz=band.peak_hz,
        low_hz=band.low_hz,
        high_hz=band.high_hz,
    )


def _holds(levels: OrderLevels | None, target: Target) -> bool:
    """Whether the whole of a drone was measured."""
    low, high = target.rpm(target.low_hz), target.rpm(target.high_hz)
    if levels is None or low is None or high is None:
        return False
    return bool(levels.rpm[0] <= low and high <= levels.rpm[-1])


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
    return _request(target_from_frequency(frequency_hz, engine_order), (), None, None, car, wishes)


def _request(
    target: Target,
    others: tuple[Target, ...],
    levels: OrderLevels | None,
    driven_rpm: tuple[float, float] | None,
    car: Car | None,
    wishes: SizeWishes,
) -> SizingRequest:
    request = SizingRequest(
        target=target if wishes.width is None else widened(target, wishes.width),
        others=others,
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
