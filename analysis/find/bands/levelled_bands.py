"""Bands of a drive whose recorder held the level, after its gain was undone.

What the gain did is known only as well as its witness, so the intervals are wider, and a band whose
place is no longer known is not told.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

from analysis.basics.interval import Interval
from analysis.findings import DroneBand

# judgement: measured, see ``tests/benchmarks/doubts``
_WIDER = 1.5
_MOST = 0.05  # judgement: of the peak's frequency; a branch cut by less than that would miss


def still_sure(bands: Sequence[DroneBand]) -> tuple[DroneBand, ...]:
    """Those whose peak is still known within 5 %, each with its wider intervals."""
    wider = (
        replace(
            band,
            peak_hz_ci95=_wider(band.peak_hz_ci95),
            low_hz_ci95=_wider(band.low_hz_ci95),
            high_hz_ci95=_wider(band.high_hz_ci95),
        )
        for band in bands
    )
    return tuple(band for band in wider if _half(band.peak_hz_ci95) < _MOST * band.peak_hz)


def _wider(interval: Interval) -> Interval:
    reach = _WIDER * _half(interval)
    middle = 0.5 * (interval.low + interval.high)
    return Interval(low=middle - reach, high=middle + reach)


def _half(interval: Interval) -> float:
    return 0.5 * (interval.high - interval.low)
