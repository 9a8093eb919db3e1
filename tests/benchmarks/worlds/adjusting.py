"""The drive after the work, and the one adjustment that ``compare`` asks for, on a true car."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import savgol_filter

from analysis.branches import Sizing
from analysis.compare.comparison import compare_drives
from analysis.compare.trim.built import built_branches, sized_branches
from analysis.findings import Findings
from analysis.size.request import SizingRequest
from analysis.verdicts import Comparison
from tests.analysis.made_findings import make_band, make_curve, make_findings
from tests.benchmarks.garage import CUT_OFF_M
from tests.garage.drone import BIN_RATIO, Drone, Measured, grid, in_cruise, noise_db
from tests.garage.gas import FloatArray
from tests.worlds.cars import Welded, WorldCar, level_db

_FULL_SCALE_DB = 120.0
_REFUSALS = {"trim_unknown", "built_does_not_fit", "branch_not_shown"}

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
    left = in_cruise(rpm, savgol_filter(after_db, 7, 2), car.order)
    sized = sized_branches(sizing)
    compared = compare_drives(
        _findings(car, (measured.drone, *measured.others), measured.rpm, measured.level_db),
        _findings(car, left, rpm, after_db),
        built_branches(sized, ()).branches,
        sized_by=request,
        kept=sized.kept,
    )
    trimmed = _trimmed(sizing, compared, welded, rng)
    addition = compared.addition
    if addition is not None and addition.outlook.is_worth_it:
        ends = addition.outlook.then_ci95_db
        more = weld(addition.position_m, addition.length_m, addition.legs)
        return Adjusted(welded=(*trimmed, *more), what="added", foretold_db=(ends.low, ends.high))
    if trimmed == welded:
        codes = {doubt.code for doubt in compared.warnings}
        return Adjusted(welded=welded, what="refused" * bool(codes & _REFUSALS), foretold_db=None)
    told = compared.trim_outlook
    ends_db = None if told is None else (told.then_ci95_db.low, told.then_ci95_db.high)
    return Adjusted(welded=trimmed, what="trimmed", foretold_db=ends_db)


def _trimmed(
    sizing: Sizing,
    compared: Comparison,
    welded: tuple[Welded, ...],
    rng: np.random.Generator,
) -> tuple[Welded, ...]:
    cuts_m = {trim.branch: trim.cut_m for trim in compared.trims if trim.is_worth_it}
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


def _findings(
    car: WorldCar, drones: Sequence[Drone], rpm: FloatArray, level: FloatArray
) -> Findings:
    """What ``find`` hands on: the one order's curve, and its bands."""
    curve = make_curve(car.order, 10.0 ** (0.1 * (level - _FULL_SCALE_DB)), rpm, passes=1)
    bands = [
        replace(
            make_band(
                car.order, each.peak_rpm, level_db=float(np.interp(each.peak_rpm, rpm, level))
            ),
            low_rpm=each.low_rpm,
            high_rpm=each.high_rpm,
        )
        for each in drones
    ]
    return make_findings([curve], bands)
