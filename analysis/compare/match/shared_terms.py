"""Two drives in the same terms: one scale, one numbering of gears, one meaning of load."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from analysis.findings import STANDING, Findings, OrderCurve, PassCurve

# Natural logarithm; as near as a moment must be to its own gear's ratio. judgement: a quarter of
# what lies between two gears; moved nothing.
_SAME_GEAR = 0.06
_Curve = TypeVar("_Curve", bound=PassCurve)


def in_shared_terms(baseline: Findings, postfix: Findings) -> tuple[Findings, Findings]:
    """Give the drives so that their mean squares, gears and loads can be laid side by side.

    Gears are those of the baseline; one that it does not have gets a number of its own. Loads that
    the drives took from different columns mean different things, and are forgotten.
    """
    numbers = _gear_numbers(baseline.gear_ratios, postfix.gear_ratios)
    own = dict(zip(numbers, postfix.gear_ratios, strict=True))
    # where both have the gear, the ratio is the baseline's
    ratios = tuple(dict(sorted((own | dict(enumerate(baseline.gear_ratios))).items())).values())
    forget = baseline.load_column != postfix.load_column
    # levels in decibels stay what they are; the mean squares behind them are brought to one scale
    gain_db = postfix.full_scale_db - baseline.full_scale_db
    postfix = _restated(postfix, gain_db=gain_db, gears=numbers, forget_load=forget)
    postfix = replace(postfix, full_scale_db=baseline.full_scale_db)
    baseline = _restated(baseline, forget_load=forget)
    return replace(baseline, gear_ratios=ratios), replace(postfix, gear_ratios=ratios)


def amplified(findings: Findings, gain_db: float) -> Findings:
    """Give the findings as if everything had been ``gain_db`` louder, on the same scale.

    Only what two drives are compared by changes: order curves, overall passes, levels of bands.
    """
    bands = tuple(replace(band, level_db=band.level_db + gain_db) for band in findings.bands)
    return replace(_restated(findings, gain_db=gain_db), bands=bands)


def louder(curve: _Curve, gain_db: float) -> _Curve:
    """Give a level as if it had been ``gain_db`` louder."""
    factor = 10.0 ** (0.1 * gain_db)
    curve = replace(
        curve, total_ms=factor * curve.total_ms, background_ms=factor * curve.background_ms
    )
    if isinstance(curve, OrderCurve):
        trend_db, fitted_db = curve.trend_db + gain_db, curve.fitted_db + gain_db
        curve = replace(curve, trend_db=trend_db, fitted_db=fitted_db)
    return curve


def _restated(
    findings: Findings,
    *,
    gain_db: float = 0.0,
    gears: Sequence[int] | None = None,
    forget_load: bool = False,
) -> Findings:
    """Change every curve alike; ``gears``: the new number of each gear, by its old one."""

    def restate(curve: _Curve) -> _Curve:
        curve = louder(curve, gain_db)
        if gears is not None:
            # a new array: renumbered in place, 0 to 1 and then 1 to 2 would be one gear
            gear = np.where(curve.gear == STANDING, float(STANDING), np.nan)
            for index, number in enumerate(gears):
                gear[curve.gear == index] = number
            curve = replace(curve, gear=gear)
        return replace(curve, load_part=np.full(curve.rpm.size, np.nan)) if forget_load else curve

    return replace(
        findings,
        curves=tuple(restate(curve) for curve in findings.curves),
        overall_passes=tuple(restate(curve) for curve in findings.overall_passes),
    )


def _gear_numbers(wanted: Sequence[float], own: Sequence[float]) -> list[int]:
    """Give each gear's number in the other drive; those that it lacks follow after its last."""
    numbers: list[int] = []
    for ratio in own:
        off = np.abs(np.log(np.asarray(wanted) / ratio))
        is_there = off.size > 0 and off.min() < _SAME_GEAR
        last = max([len(wanted) - 1, *numbers])
        numbers.append(int(off.argmin()) if is_there else last + 1)
    return numbers
