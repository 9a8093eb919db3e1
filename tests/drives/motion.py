"""What the driver does: continuous engine speed, crank phase, load and road speed over time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d

from analysis.basics.arrays import FloatArray
from tests.drives.spec import DriveSpec, Leg

GRID_HZ = 20.0
_INERTIA_S = 0.25  # no engine turns a corner of its speed curve faster than this


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Engine speed as a spline, so that its integral, the crank phase, is exact.

    ``grid_s``, ``load`` and ``speed_m_s`` [shape=(n_grid,)] are on a 20 Hz grid.
    """

    grid_s: FloatArray
    rpm_spline: CubicSpline[np.float64]
    load: FloatArray
    speed_m_s: FloatArray

    def rpm(self, time_s: FloatArray) -> FloatArray:
        """Engine speed; before and after the drive it stays as it was."""
        clipped = np.clip(time_s, self.grid_s[0], self.grid_s[-1])
        return np.asarray(self.rpm_spline(clipped), dtype=np.float64)

    def revolutions(self, time_s: FloatArray) -> FloatArray:
        """Crank phase in revolutions since the start."""
        return np.asarray(self.rpm_spline.antiderivative()(time_s), dtype=np.float64) / 60.0

    def speed_at(self, time_s: FloatArray) -> FloatArray:
        """Road speed in m/s."""
        return np.interp(time_s, self.grid_s, self.speed_m_s)

    def load_at(self, time_s: FloatArray) -> FloatArray:
        """Load factor of the pulses."""
        return np.interp(time_s, self.grid_s, self.load)


def drive_motion(spec: DriveSpec, rng: np.random.Generator) -> Motion:
    """Turn the legs of a drive into smooth curves with a human wobble."""
    grid_s = np.arange(0.0, spec.duration_s + 1.5 / GRID_HZ, 1.0 / GRID_HZ)
    rpm = np.full(grid_s.size, spec.start_rpm)
    load = np.ones(grid_s.size)
    start_s, start_rpm = 0.0, spec.start_rpm
    for leg in spec.legs:
        here = grid_s >= start_s
        share = np.clip((grid_s[here] - start_s) / leg.duration_s, 0.0, 1.0)
        wobble = spec.sweep_wobble if leg.is_sweep(start_rpm) else 0.0
        rpm[here] = start_rpm + (leg.end_rpm - start_rpm) * _progress(share, wobble, rng)
        load[here] = leg.load
        start_s, start_rpm = start_s + leg.duration_s, leg.end_rpm
    rpm = gaussian_filter1d(rpm, _INERTIA_S * GRID_HZ, mode="nearest")
    rpm += _flutter(grid_s.size, spec.speed_flutter_rpm, rng)
    load = gaussian_filter1d(load, 2.0 * _INERTIA_S * GRID_HZ, mode="nearest")
    return Motion(
        grid_s=grid_s,
        rpm_spline=CubicSpline(grid_s, rpm),
        load=load,
        speed_m_s=_road_speed(spec, grid_s, rpm),
    )


def _progress(share: FloatArray, wobble: float, rng: np.random.Generator) -> FloatArray:
    """Go from 0 to 1, straying from the straight line by about ``wobble`` on the way."""
    stray = np.zeros_like(share)
    for waves in (1, 2, 3, 4, 5):
        stray += rng.normal() * np.sin(np.pi * waves * share) / waves
    return share + wobble * stray


def _flutter(count: int, deviation_rpm: float, rng: np.random.Generator) -> FloatArray:
    slow = gaussian_filter1d(rng.normal(size=count), 0.3 * GRID_HZ, mode="nearest")
    return np.asarray(slow * (deviation_rpm / max(float(slow.std()), 1e-12)))


def _road_speed(spec: DriveSpec, grid_s: FloatArray, rpm: FloatArray) -> FloatArray:
    """Road speed: fixed to the engine in gear, a straight line in between, 0 at the ends."""
    gear = _gear_on_grid(spec.legs, grid_s)
    speed = np.full(grid_s.size, np.nan)
    for number in {leg.gear for leg in spec.legs if leg.gear is not None}:
        here = gear == number
        speed[here] = rpm[here] * spec.gearing.speed_m_s(1.0, number) if number else 0.0
    if np.isnan(speed[0]):
        speed[0] = 0.0
    if np.isnan(speed[-1]):
        speed[-1] = 0.0
    known = ~np.isnan(speed)
    return np.asarray(np.interp(grid_s, grid_s[known], speed[known]))


def _gear_on_grid(legs: tuple[Leg, ...], grid_s: FloatArray) -> FloatArray:
    ends_s = np.cumsum([leg.duration_s for leg in legs])
    index = np.minimum(np.searchsorted(ends_s, grid_s, side="left"), len(legs) - 1)
    gears = np.array([np.nan if leg.gear is None else leg.gear for leg in legs])
    return np.asarray(gears[index])
