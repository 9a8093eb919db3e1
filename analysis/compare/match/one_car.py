"""Are two drives of one car, before and after? What they say of engine and gears, and their sound.

Nothing here tells two cars of one kind apart. What is told is what no work on an exhaust changes.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

import numpy as np

from analysis.findings import Doubt, Findings

# judgement: tyres and speedometers differ by less than the first; gears of one car by more than the
# second, so a log of other gears is not taken for another car. They raise a warning, no number.
_SAME_GEAR = 0.03  # natural logarithm of engine speed over road speed
_NEXT_GEAR = 0.12
OTHER_GEARING = "other_gearing"  # code of the doubt that says so


def not_before_and_after(baseline: Findings, postfix: Findings) -> Doubt | None:
    """Say why nothing can be told of work between them; None where it can."""
    first, second = baseline.engine, postfix.engine
    if first is not None and second is not None and first != second:
        return Doubt(
            code="engine_differs",
            message=f"The two drives are not of one car: {baseline.drive_name} says "
            f"{first.cylinders} cylinders and {first.stroke_cycle} strokes, {postfix.drive_name} "
            f"{second.cylinders} and {second.stroke_cycle}. If a session is wrong, say "
            "--cylinders.",
        )
    if _are_one(baseline, postfix):
        return Doubt(
            code="same_recording",
            message="The two drives are one and the same; give the drive before the work and the "
            "one after it.",
        )
    return None


def other_gearing(baseline: Findings, postfix: Findings) -> float | None:
    """How much faster the engine turns at one road speed after, as a share; None for alike.

    Only where no gear of the one is a gear of the other, and they are too near to be two gears.
    """
    apart = [
        math.log(after / before) for before in baseline.gear_ratios for after in postfix.gear_ratios
    ]
    nearest = min(apart, key=abs, default=0.0)
    return math.expm1(nearest) if _SAME_GEAR < abs(nearest) < _NEXT_GEAR else None


def _are_one(baseline: Findings, postfix: Findings) -> bool:
    """Whether every level of all that was heard is the same, which no two drives are."""
    pairs = [(before, postfix.curve(before.engine_order)) for before in baseline.curves]
    first, second = baseline.level_map, postfix.level_map
    if first is not None and second is not None:
        same_map = np.array_equal(first.level_db, second.level_db, equal_nan=True)
    else:
        same_map = first is second
    return (
        same_map
        and bool(pairs)
        and all(
            after is not None
            and np.array_equal(before.total_ms, after.total_ms)
            and np.array_equal(before.rpm, after.rpm)
            for before, after in pairs
        )
    )
