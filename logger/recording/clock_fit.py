"""One straight line between the computer's clock and that of the sound, once a recording is over.

Sound cannot come early, and a sound server may hold it back by 10 to 30 ms for a while. So the pace
is that of all arrivals, and the beginning that of the earliest.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from logger.arrays import FloatArray

# judgement, all of these: what ordinary systems do. A pace is taken for drift from the shortest
# duration on, and where it is beyond what wander makes of none.
_MOST_DRIFT_PPM = 500.0  # sound cards are off by 100 ppm or so
_SETTLING_S = 20.0  # sound systems find their pace first
_LEAST_FIT_S = 60.0  # below, wander looks like drift
_ROUNDS = 20
# judgement: half as long again as sound systems take to settle; 20 s told a drift in 8 of 100
# recordings that had none.
_WANDER_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFit:
    """One straight line between the computer's clock and that of the session.

    Attributes
    ----------
    origin_s : float
        :func:`time.perf_counter` at session time 0.
    sound_fast_ppm : float or None
        How much the sound card's clock runs fast against the computer's; None where arrival
        wanders so much in so short a recording that it may be none at all.
    within_ppm : float or None
        Half of its interval for 95 %; None when the recording was too short to tell.
    spread_s : float
        Standard deviation of arrival about the line, robust.
    """

    origin_s: float
    sound_fast_ppm: float | None
    within_ppm: float | None
    spread_s: float

    @property
    def is_a_cards(self) -> bool:
        """Whether a sound card may be so fast or slow; else sound is lost in unseen pieces."""
        return abs(self.sound_fast_ppm or 0.0) <= _MOST_DRIFT_PPM

    def session_s(self, perf_s: FloatArray) -> FloatArray:
        """Place times of :func:`time.perf_counter` on the session's clock."""
        return (perf_s - self.origin_s) * (1.0 + 1e-6 * (self.sound_fast_ppm or 0.0))


def fit_clock(at_s: FloatArray, lag_s: FloatArray) -> ClockFit:
    """Fit how late the earliest sound of each second came, over session time; both not empty."""
    # the first seconds are the sound system finding its pace, not the card's clock
    settled = at_s >= _SETTLING_S
    if not settled.any() or np.ptp(at_s[settled]) < _LEAST_FIT_S:
        return no_drift(float(lag_s.min()), lag_s)
    offset_s, slope = _robust_line(at_s[settled], lag_s[settled])
    spread_s = _spread(lag_s[settled] - offset_s - slope * at_s[settled])
    within_ppm = 1e6 * _within(spread_s, float(np.ptp(at_s[settled])))
    sound_fast_ppm = 1e6 * (1.0 / (1.0 + slope) - 1.0)
    # a pace that no card has is no wander either, however short the recording
    if abs(sound_fast_ppm) < min(within_ppm, _MOST_DRIFT_PPM):
        return no_drift(float(lag_s.min()), lag_s, within_ppm)
    return ClockFit(
        # the line through all is late by the mean of what waits, 10 ms and more
        origin_s=float((lag_s[settled] - slope * at_s[settled]).min()),
        sound_fast_ppm=sound_fast_ppm,
        within_ppm=within_ppm,
        spread_s=spread_s,
    )


def no_drift(origin_s: float, lag_s: FloatArray, within_ppm: float | None = None) -> ClockFit:
    """Give the clock of a card that is true, or too little to tell."""
    return ClockFit(
        origin_s=origin_s,
        sound_fast_ppm=None,
        within_ppm=within_ppm,
        spread_s=_spread(lag_s - origin_s) if lag_s.size else 0.0,
    )


def _within(spread_s: float, duration_s: float) -> float:
    """Half of the interval for 95 % of a slope, s/s; arrival wanders, it does not scatter.

    So only stretches as long as the wander are witnesses of their own. The error of the slope
    through n even points is ``spread sqrt(12 / n) / duration``, Student's t with n - 2 degrees of
    freedom (Draper and Smith, Applied Regression Analysis, ch. 1, from memory).
    """
    count = duration_s / _WANDER_S
    error = spread_s * math.sqrt(12.0 / count) / duration_s
    return float(stdtrit(max(count - 2.0, 1.0), 0.975)) * error


def _robust_line(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Offset and slope with Huber's weights: a few seconds of trouble must not tilt the line."""
    weight = np.ones_like(x)
    slope, offset = 0.0, float(np.median(y))
    for _ in range(_ROUNDS):
        slope, offset = np.polyfit(x, y, 1, w=weight)
        residual = np.abs(y - offset - slope * x)
        # 1.345 robust deviations: Huber's usual limit, 95 % efficient on clean data, from memory
        limit = max(1.345 * 1.4826 * float(np.median(residual)), 1e-6)
        weight = np.sqrt(np.minimum(1.0, limit / np.maximum(residual, limit)))
    return float(offset), float(slope)


def _spread(residual: FloatArray) -> float:
    return 1.4826 * float(np.median(np.abs(residual - np.median(residual))))
