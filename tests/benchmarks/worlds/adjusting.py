"""The drive after the work, and the one adjustment that ``compare`` asks for, on a true car."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from analysis.branches import Sizing
from analysis.compare.trim.advice import TrimAdvice
from analysis.compare.trim.built import built_branches, sized_branches
from analysis.compare.trim.by_frequency import advise_trims
from analysis.compare.trim.on_exhaust import trims_on_exhaust
from analysis.findings import Findings
from analysis.size.request import SizingRequest
from tests.analysis.made_findings import make_band, make_curve, make_findings
from tests.benchmarks.garage import CUT_OFF_M
from tests.garage.drone import BIN_RATIO, Measured, grid, noise_db
from tests.garage.gas import FloatArray
from tests.worlds.cars import Welded, WorldCar, level_db

_FULL_SCALE_DB = 120.0

# place and length as told, and the pipe, to branches on the true car: one on each pipe alike
Weld = Callable[[float, float, tuple[str, ...]], tuple[Welded, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusted:
    """Branches after the adjustment, and what it was, in a word; "" for none."""

    welded: tuple[Welded, ...]
    what: str
    foretold_db: tuple[float, float] | None


def adjusted(
    car: WorldCar,
    request: SizingRequest,
    measured: Measured,
    sizing: Sizing,
    welded: tuple[Welded, ...],
    weld: Weld,
    rng: np.random.Generator,
) -> Adjusted:
    """Drive again, ask what to adjust, and do it as well as a builder does.

    ``welded`` are the branches of ``sizing``, each once for every pipe that gets one.
    """
    rpm = grid(car.range_rpm, BIN_RATIO)
    after_db = level_db(car, rpm, welded) + noise_db(rpm.size, rng)
    drives = (
        _findings(car, measured, measured.rpm, measured.level_db),
        _findings(car, measured, rpm, after_db),
    )
    sized = sized_branches(sizing)
    built = built_branches(sized, ()).branches
    advice = trims_on_exhaust(request, *drives, built, lambda _: None, sized.kept)
    if advice is None:
        advice = advise_trims(*drives, built, request)
    trimmed = _trimmed(sizing, advice, welded, rng)
    addition = advice.addition
    if addition is not None and addition.outlook.is_worth_it:
        ends = addition.outlook.then_ci95_db
        more = weld(addition.position_m, addition.length_m, addition.legs)
        return Adjusted(welded=(*trimmed, *more), what="added", foretold_db=(ends.low, ends.high))
    if trimmed == welded:
        return Adjusted(welded=welded, what="refused" * bool(advice.doubts), foretold_db=None)
    told = advice.outlook
    ends_db = None if told is None else (told.then_ci95_db.low, told.then_ci95_db.high)
    return Adjusted(welded=trimmed, what="trimmed", foretold_db=ends_db)


def _trimmed(
    sizing: Sizing,
    advice: TrimAdvice,
    welded: tuple[Welded, ...],
    rng: np.random.Generator,
) -> tuple[Welded, ...]:
    cuts_m = {trim.branch: trim.cut_m for trim in advice.trims if trim.is_worth_it}
    numbers = [
        number
        for number, branch in enumerate(sizing.branches, start=1)
        for _ in branch.legs or (None,)
    ]
    return tuple(
        replace(one, length_m=one.length_m - cuts_m[n] + rng.uniform(-CUT_OFF_M, CUT_OFF_M))
        if n in cuts_m
        else one
        for n, one in zip(numbers, welded, strict=True)
    )


def _findings(car: WorldCar, measured: Measured, rpm: FloatArray, level: FloatArray) -> Findings:
    """What ``find`` hands on: the one order's curve, and the band."""
    drone = measured.drone
    curve = make_curve(car.order, 10.0 ** (0.1 * (level - _FULL_SCALE_DB)), rpm, passes=1)
    band = make_band(car.order, drone.peak_rpm)
    return make_findings([curve], [replace(band, low_rpm=drone.low_rpm, high_rpm=drone.high_rpm)])
