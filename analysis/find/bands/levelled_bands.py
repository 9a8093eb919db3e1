"""Bands of a drive whose recorder held the level, after its gain was undone.

What the gain did is known only as well as its witness, so the intervals are wider, and a band whose
place is no longer known is not told. What is left of the gain goes with engine speed, so it lifts
all orders at one engine speed; a resonance lifts them at one frequency. So the place where several
orders agree is known, however unsure each of them is; and beside it a band that one order shows
alone is not told.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.interval import Interval
from analysis.findings import DroneBand

# judgement: on 18 levelled roads the peak's interval so held the truth of 97 % of 99 bands, and as
# it was of 90 %
_WIDER = 1.5
_MOST = 0.05  # judgement: of the peak's frequency; a branch cut by less than that would miss
_ALIKE = 0.03  # judgement: of a frequency, one resonance in two orders; as in ``causes``
# judgement: where a dozen orders have a hill each between 50 and 200 Hz, chance puts another so
# near to it in two cases of five, three others in one of a hundred. Of 20 levelled roads two others
# would tell 4 false bands among 72, three tell 2 among 55, none 2 among 28
_AGREEING = 3


def still_sure(bands: Sequence[DroneBand]) -> tuple[DroneBand, ...]:
    """Those whose peak is still known, by itself or by other orders, with wider intervals."""
    wider = [
        replace(
            band,
            peak_hz_ci95=_wider(band.peak_hz_ci95),
            low_hz_ci95=_wider(band.low_hz_ci95),
            high_hz_ci95=_wider(band.high_hz_ci95),
        )
        for band in bands
    ]
    known = [
        band
        for band in wider
        if _half(band.peak_hz_ci95) < _MOST * band.peak_hz or _confirming(band, wider) >= _AGREEING
    ]
    confirmed = [band for band in known if _confirming(band, known)]
    return tuple(confirmed or known)


def _confirming(band: DroneBand, others: Sequence[DroneBand]) -> int:
    """Count the other orders that show a resonance at the same frequency."""
    near = (other for other in others if abs(np.log(other.peak_hz / band.peak_hz)) < _ALIKE)
    return sum(other.engine_order != band.engine_order for other in near)


def _wider(interval: Interval) -> Interval:
    reach = _WIDER * _half(interval)
    middle = 0.5 * (interval.low + interval.high)
    return Interval(low=middle - reach, high=middle + reach)


def _half(interval: Interval) -> float:
    return 0.5 * (interval.high - interval.low)
