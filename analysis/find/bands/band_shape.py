"""Where a hill's resonance peaks and falls to half power, how sure that is, and the band it makes.

The resonance fitted to a hill says it where it stands on it; else the hill says it itself.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import SURE, Interval
from analysis.find.bands.hills import HALF_POWER_DB, STEP, Hill, SeenLevel
from analysis.find.bands.resonance_model import ResonanceFit, rise_db
from analysis.findings import DroneBand, LockedTo

# judgement: beyond it, half-power width over peak, a bump is a trend
_WIDEST = 0.45
# judgement: a half-power point may lie this far outside what was driven
BEYOND = 1.04
_FREQUENCY_FLOOR = 0.0004  # judgement: engine speed is not known better than this part
_FLANKS = 1.3  # judgement: what else a car does to a level tilts flanks more than it moves a top
# judgement: where no resonance fits a hill that is seen, its own top and flanks are told, with so
# much of its width as their standard error
_AS_SEEN = 0.25
_AS_LOUD_DB = 0.4  # judgement: less than anybody hears; tops are as flat as this


class Shape(NamedTuple):
    """Where a resonance peaks and falls to half power; or errors of these."""

    peak_hz: float
    low_hz: float
    high_hz: float

    @property
    def is_trend(self) -> bool:
        """Whether it is too wide for a resonance, as where two run into each other."""
        return (self.high_hz - self.low_hz) / self.peak_hz >= _WIDEST


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaped:
    """A hill with its resonance; ``error`` holds the standard errors of its shape."""

    hill: Hill
    fit: ResonanceFit
    shape: Shape
    error: Shape

    @classmethod
    def of(
        cls, seen: tuple[Hill, ResonanceFit], level: SeenLevel, driven_hz: FloatArray
    ) -> "Shaped":
        """Take the shape of a hill's resonance, or the hill's own where that is another's.

        ``driven_hz`` [shape=(2,)] are the ends of what was driven.
        """
        hill, fit = seen
        # fine enough that a half-power point lies within a hundredth of the narrowest band
        grid_hz = np.geomspace(driven_hz[0] / BEYOND, driven_hz[1] * BEYOND, 4000)
        near_hz = float(np.exp(fit.first[0]))
        shape = _half_power(grid_hz, fit.rise_db(grid_hz), near_hz)
        peak_hz = None if shape is None or shape.is_trend else _where_loud(level, hill, shape)
        if shape is not None and peak_hz is not None:
            error = _standard_error(fit, grid_hz, near_hz, shape)
            return cls(hill=hill, fit=fit, shape=shape._replace(peak_hz=peak_hz), error=error)
        error_hz = _AS_SEEN * hill.width * hill.top_hz
        return cls(
            hill=hill,
            fit=fit,
            shape=Shape(hill.top_hz, *hill.half_power_hz),
            error=Shape(error_hz, error_hz, error_hz),
        )

    def band(self, order: float, level_offset_db: float) -> DroneBand:
        """Give the band as others read it."""
        (peak_hz, low_hz, high_hz), error = self.shape, self.error

        def interval(value_hz: float, error_hz: float) -> Interval:
            reach = SURE * float(np.hypot(error_hz, _FREQUENCY_FLOOR * value_hz))
            return Interval(low=value_hz - reach, high=value_hz + reach)

        return DroneBand(
            engine_order=order,
            peak_rpm=60.0 * peak_hz / order,
            low_rpm=60.0 * low_hz / order,
            high_rpm=60.0 * high_hz / order,
            rise_db=self.hill.prominence_db,
            level_db=self.hill.level_db + level_offset_db,
            locked_to=LockedTo.UNKNOWN,
            peak_hz_ci95=interval(peak_hz, error.peak_hz),
            low_hz_ci95=interval(low_hz, _FLANKS * error.low_hz),
            high_hz_ci95=interval(high_hz, _FLANKS * error.high_hz),
        )


def _where_loud(level: SeenLevel, hill: Hill, shape: Shape) -> float | None:
    """Place nearest to a resonance's peak where the level is as good as at the hill's top.

    None where that is off the resonance's own top: it is not the hill's then.
    """
    peak_hz = shape.peak_hz
    on_it = np.abs(level.log_f - np.log(hill.top_hz)) < 0.5 * STEP
    on_it |= (level.log_f > np.log(hill.half_power_hz[0])) & (
        level.log_f < np.log(hill.half_power_hz[1])
    )
    loud = level.log_f[on_it & (level.level_db >= hill.level_db - _AS_LOUD_DB)]
    nearest = loud[np.abs(loud - np.log(peak_hz)).argmin()]
    if abs(nearest - np.log(peak_hz)) > STEP:
        peak_hz = float(np.exp(nearest))
    within = abs(peak_hz - shape.peak_hz) < _AS_SEEN * (shape.high_hz - shape.low_hz)
    return peak_hz if within else None


def _half_power(grid_hz: FloatArray, curve_db: FloatArray, near_hz: float) -> Shape | None:
    """Shape of the hill that ``near_hz`` stands on.

    None when the hill's top or one of its half-power points was not driven through.
    """
    top = int(np.searchsorted(grid_hz, near_hz))
    top = min(max(top, 1), grid_hz.size - 2)
    while 0 < top < grid_hz.size - 1:
        step = int(np.argmax(curve_db[top - 1 : top + 2])) - 1
        if step == 0:
            break
        top += step
    else:
        return None
    target = curve_db[top] - HALF_POWER_DB
    below = np.flatnonzero(curve_db < target)
    left, right = below[below < top], below[below > top]
    if left.size == 0 or right.size == 0:
        return None

    def crossing(index: int) -> float:
        part = (target - curve_db[index]) / (curve_db[index + 1] - curve_db[index])
        return float(grid_hz[index] + part * (grid_hz[index + 1] - grid_hz[index]))

    # a parabola through the three highest points: finer than the grid
    a, b, c = curve_db[top - 1 : top + 2]
    part = 0.5 * (a - c) / (a - 2.0 * b + c) if a - 2.0 * b + c < 0 else 0.0
    peak_hz = float(grid_hz[top] * (grid_hz[1] / grid_hz[0]) ** part)
    low_hz, high_hz = crossing(int(left[-1])), crossing(int(right[0]) - 1)
    return Shape(peak_hz, low_hz, high_hz)


def _standard_error(fit: ResonanceFit, grid_hz: FloatArray, near_hz: float, shape: Shape) -> Shape:
    """Give the standard errors of a fit's shape."""
    centre = np.array(shape)
    slopes = np.zeros((centre.size, fit.modes.size))
    errors = np.sqrt(np.maximum(np.diag(fit.covariance), 0.0))
    for index in range(fit.modes.size):
        # well within the uncertainty, so that the hill does not turn into another one
        step = min(0.2 * errors[index], 0.02)
        if step <= 0.0:
            continue
        moved = fit.modes.copy()
        moved[index] += step
        other = _half_power(grid_hz, rise_db(moved, grid_hz), near_hz)
        if other is not None:
            slopes[:, index] = (np.array(other) - centre) / step
    return Shape(*np.sqrt(np.maximum(np.diag(slopes @ fit.covariance @ slopes.T), 0.0)))
