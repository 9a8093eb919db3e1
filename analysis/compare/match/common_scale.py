"""Two drives, recorded with different gain, on one scale."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace
from typing import TypeVar

from analysis.findings import Findings, OrderCurve, PassCurve

_Curve = TypeVar("_Curve", bound=PassCurve)


def on_scale(findings: Findings, full_scale_db: float) -> Findings:
    """Give the findings as if the gain had been such that ``full_scale_db`` is right.

    Levels in decibels stay what they are; the mean squares behind them are scaled.
    """
    gain_db = findings.full_scale_db - full_scale_db
    if gain_db == 0.0:
        return findings
    return replace(_curves_amplified(findings, gain_db), full_scale_db=full_scale_db)


def amplified(findings: Findings, gain_db: float) -> Findings:
    """Give the findings as if everything had been ``gain_db`` louder, on the same scale.

    Only what two drives are compared by changes: order curves, overall passes, levels of bands.
    """
    amplified_curves = _curves_amplified(findings, gain_db)
    bands = tuple(replace(band, level_db=band.level_db + gain_db) for band in findings.bands)
    return replace(amplified_curves, bands=bands)


def _curves_amplified(findings: Findings, gain_db: float) -> Findings:
    return replace(
        findings,
        curves=tuple(_amplified_order(curve, gain_db) for curve in findings.curves),
        overall_passes=tuple(louder(curve, gain_db) for curve in findings.overall_passes),
    )


def _amplified_order(curve: OrderCurve, gain_db: float) -> OrderCurve:
    return replace(
        louder(curve, gain_db),
        trend_db=curve.trend_db + gain_db,
        fitted_db=curve.fitted_db + gain_db,
    )


def louder(curve: _Curve, gain_db: float) -> _Curve:
    """Give a level as if it had been ``gain_db`` louder."""
    factor = 10.0 ** (0.1 * gain_db)
    return replace(
        curve, total_ms=factor * curve.total_ms, background_ms=factor * curve.background_ms
    )
