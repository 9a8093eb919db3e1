"""Two drives in the same terms: one scale, one numbering of gears, one meaning of load."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from analysis.compare.match.common_scale import on_scale
from analysis.findings import STANDING, Findings, PassCurve

# Natural logarithm; as near as a moment must be to its own gear's ratio. judgement: a quarter of
# what lies between two gears; moved nothing.
_SAME_GEAR = 0.06  # natural logarithm; as near as a moment must be to its own gear's ratio
_Curve = TypeVar("_Curve", bound=PassCurve)


def in_shared_terms(baseline: Findings, postfix: Findings) -> tuple[Findings, Findings]:
    """Give the drives so that their mean squares, gears and loads can be laid side by side.

    Gears are those of the baseline; one that it does not have gets a number of its own. Loads that
    the drives took from different columns mean different things, and are forgotten.
    """
    postfix = on_scale(postfix, baseline.full_scale_db)
    numbers = _gear_numbers(baseline.gear_ratios, postfix.gear_ratios)
    postfix = replace(
        postfix,
        curves=tuple(_renumbered(curve, numbers) for curve in postfix.curves),
        overall_passes=tuple(_renumbered(curve, numbers) for curve in postfix.overall_passes),
    )
    own = dict(zip(numbers, postfix.gear_ratios, strict=True))
    ratios = tuple(dict(sorted((own | dict(enumerate(baseline.gear_ratios))).items())).values())
    baseline = replace(baseline, gear_ratios=ratios)
    postfix = replace(postfix, gear_ratios=ratios)
    if baseline.load_column == postfix.load_column:
        return baseline, postfix
    return _without_load(baseline), _without_load(postfix)


def _gear_numbers(wanted: Sequence[float], own: Sequence[float]) -> list[int]:
    """Give each gear's number in the other drive; those that it lacks follow after its last."""
    numbers: list[int] = []
    for ratio in own:
        off = np.abs(np.log(np.asarray(wanted) / ratio))
        is_there = off.size > 0 and off.min() < _SAME_GEAR
        last = max([len(wanted) - 1, *numbers])
        numbers.append(int(off.argmin()) if is_there else last + 1)
    return numbers


def _renumbered(curve: _Curve, numbers: Sequence[int]) -> _Curve:
    gear = np.where(curve.gear == STANDING, float(STANDING), np.nan)
    for index, number in enumerate(numbers):
        gear[curve.gear == index] = number
    return replace(curve, gear=gear)


def _without_load(findings: Findings) -> Findings:
    return replace(
        findings,
        curves=tuple(_loadless(curve) for curve in findings.curves),
        overall_passes=tuple(_loadless(curve) for curve in findings.overall_passes),
    )


def _loadless(curve: _Curve) -> _Curve:
    return replace(curve, load_part=np.full(curve.rpm.size, np.nan))
