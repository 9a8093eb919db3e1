"""What somebody who knows everything would say of a road drive, without the analysis.

The oracle has the true engine speed and the engine's sound alone: no noise, no music, no recorder.
It draws the level of each order as it was driven, and has the car's own curve beside it, worked out
from pulses and filters. A hill that both show with 6 dB or more must be found; a place where
neither shows 3 dB must not be told; of what lies between nothing is asked.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import signal
from scipy.ndimage import gaussian_filter1d

from tests.roads import RoadDrive, TrueHill
from tests.roads.spec import FloatArray

MUST_DB, MAY_DB = 6.0, 3.0
_BIN = 0.015  # of engine speed, as a share
_FINE_BIN = 0.004
_SMOOTHED_BINS = 1.0
_HEARD_DB = 12.0  # under the loudest order at that speed; further below nobody is troubled
_OVER_NOISE_DB = 6.0
_NEAR = 0.04  # of frequency: the same hill
_FLANK, _AT_END = 0.25, 0.03  # of ln f: how far a climb goes, and how near the end its top is


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A hill that must be found; ``hill`` is the car's own, the rest is as it was driven.

    Cycles that differ and loads that change move the top of the driven curve by a percent, more on
    wide hills; both tops are true.
    """

    hill: TrueHill
    driven_peak_hz: float
    height_db: float
    over_noise_db: float


class RoadOracle:
    """Curves of one drive, each order's worked out when it is first asked for."""

    def __init__(self, made: RoadDrive) -> None:
        self._made = made
        self._driven: dict[float, tuple[FloatArray, FloatArray]] = {}
        low, high = np.quantile(made.truth.rpm, [0.01, 0.99])
        self._edges = np.exp(np.arange(np.log(low), np.log(high) + _BIN, _BIN))

    @cached_property
    def must(self) -> tuple[Asked, ...]:
        """Hills that must be found, loudest first."""
        asked = []
        for hill in self._made.truth.hills:
            if hill.height_db < MUST_DB or hill.below_strongest_db > _HEARD_DB:
                continue
            if not np.isfinite(hill.low_rpm + hill.high_rpm):
                continue
            height_db = self._driven_height(hill.order, hill.peak_hz)
            over_noise_db = self._over_noise(hill)
            if height_db >= MUST_DB and over_noise_db >= _OVER_NOISE_DB:
                asked.append(
                    Asked(
                        hill=hill,
                        driven_peak_hz=self._driven_peak_hz(hill),
                        height_db=height_db,
                        over_noise_db=over_noise_db,
                    )
                )
        return tuple(asked)

    def may_be_told(self, order: float, frequency_hz: float) -> bool:
        """Whether either curve shows a hill there."""
        return self.height_at(order, frequency_hz) >= MAY_DB

    def height_at(self, order: float, frequency_hz: float) -> float:
        """Prominence of the hill nearest to a frequency, in the curve that shows it better."""
        car = [
            hill.height_db
            for hill in self._made.truth.hills
            if hill.order == order and _is_near(hill.peak_hz, frequency_hz, hill.width)
        ]
        return max([*car, self._driven_height(order, frequency_hz)])

    @cached_property
    def climb_db(self) -> float:
        """Highest climb to an end of what was driven, of the car's orders that are heard there."""
        curves = self._made.truth.curves
        strongest_db = curves.level_db.max(axis=0)
        every = (_climbs_db(np.log(curves.rpm), row, strongest_db) for row in curves.level_db)
        return max((climb for climbs in every for climb in climbs), default=0.0)

    def peak_error(self, order: float, frequency_hz: float) -> float:
        """How far the order's nearest top is, car's or driven, as a share; infinity for none."""
        tops = [hill.peak_hz for hill in self._made.truth.hills if hill.order == order]
        tops += [each.driven_peak_hz for each in self.must if each.hill.order == order]
        return min((abs(float(np.log(frequency_hz / top))) for top in tops), default=np.inf)

    def _driven_height(self, order: float, frequency_hz: float) -> float:
        rpm, level_db = self._curve(order)
        peaks, facts = signal.find_peaks(level_db, prominence=0.5)
        widths = signal.peak_widths(level_db, peaks)[0] * _BIN
        near = [
            float(height)
            for peak, height, width in zip(peaks, facts["prominences"], widths, strict=True)
            if _is_near(order * rpm[peak] / 60.0, frequency_hz, width)
        ]
        return max(near, default=0.0)

    def _curve(self, order: float) -> tuple[FloatArray, FloatArray]:
        if order not in self._driven:
            level_db = self._made.truth.driven_curve(order, self._edges)
            rpm = np.sqrt(self._edges[1:] * self._edges[:-1])
            known = np.isfinite(level_db)
            filled = np.interp(rpm, rpm[known], level_db[known])
            smooth = gaussian_filter1d(filled, _SMOOTHED_BINS, mode="nearest")
            self._driven[order] = rpm, np.asarray(smooth)
        return self._driven[order]

    def _driven_peak_hz(self, hill: TrueHill) -> float:
        """Where the driven curve is highest near the hill's top, in finer bins."""
        room = max(_NEAR, 0.5 * hill.width)
        edges = hill.peak_rpm * np.exp(np.arange(-2.0 * room, 2.0 * room, _FINE_BIN))
        level_db = self._made.truth.driven_curve(hill.order, edges)
        rpm = np.sqrt(edges[1:] * edges[:-1])
        known = np.isfinite(level_db)
        smooth = gaussian_filter1d(np.interp(rpm, rpm[known], level_db[known]), 2.0)
        inside = np.flatnonzero(np.abs(np.log(rpm / hill.peak_rpm)) < room)
        return hill.order * float(rpm[inside[np.argmax(smooth[inside])]]) / 60.0

    def _over_noise(self, hill: TrueHill) -> float:
        edges = np.array([0.96, 1.04]) * hill.peak_rpm
        truth = self._made.truth
        level_db = truth.driven_curve(hill.order, edges) - truth.noise_curve(hill.order, edges)
        return float(np.nan_to_num(level_db[0], nan=-np.inf))


def _climbs_db(
    log_rpm: FloatArray, level_db: FloatArray, strongest_db: FloatArray
) -> Iterator[float]:
    """Climb to the slow end and to the fast one, where there is one."""
    for inwards in (slice(None), slice(None, None, -1)):
        way = np.abs(log_rpm[inwards] - log_rpm[inwards][0])
        near_db = level_db[inwards][way < _FLANK]
        top = int(near_db.argmax())
        if way[top] < _AT_END and strongest_db[inwards][top] - near_db[top] < _HEARD_DB:
            yield float(near_db[top] - near_db[top:].min())


def _is_near(one_hz: float, other_hz: float, width: float) -> bool:
    room = max(_NEAR, 0.5 * width) if np.isfinite(width) else _NEAR
    return bool(abs(np.log(one_hz / other_hz)) < room)
