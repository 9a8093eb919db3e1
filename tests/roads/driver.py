"""What the driver does: engine speed, crank phase, load, gear and road speed over time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
from scipy import signal
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from tests.roads.spec import Deactivation, Driver, FloatArray, Leg

GRID_HZ = 100.0
_INERTIA_S = 0.08  # judgement: no flywheel turns a corner faster; rounds shifts and blips
_FOOT_S = 0.06  # judgement: how fast a throttle opens
_SLOW_LEG_S = 6.0  # judgement: only legs longer than this stray from a straight line
_IDLE_RPM = 1150.0  # judgement: below it the engine hunts


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """The drive on a grid of 10 ms; all arrays have the same shape (n,).

    ``gear`` is 0 at a standstill, -1 with the clutch down.
    """

    grid_s: FloatArray
    rpm: FloatArray
    revolutions: FloatArray
    load: FloatArray
    gear: FloatArray
    speed_m_s: FloatArray

    def at(self, what: FloatArray, time_s: FloatArray) -> FloatArray:
        """One of the arrays at other times."""
        return np.interp(time_s, self.grid_s, what)

    def turns_at(self, time_s: FloatArray) -> FloatArray:
        """Crank phase in revolutions, smooth between the points of the grid."""
        return np.asarray(CubicSpline(self.grid_s, self.revolutions)(time_s))

    def deactivated(self, spec: Deactivation | None, top_gear: int) -> FloatArray:
        """1 where half of the cylinders are shut, else 0, on the grid."""
        if spec is None:
            return np.zeros(self.grid_s.size)
        inside = (self.rpm > spec.low_rpm) & (self.rpm < spec.high_rpm)
        light = (self.load > 0.05) & (self.load < spec.highest_load)
        wanted = (inside & light & (self.gear == top_gear)).astype(np.float64)
        # A second of such driving is needed before the valves are shut, and before they open.
        return np.asarray((uniform_filter1d(wanted, int(GRID_HZ)) > 0.5).astype(np.float64))


def drive_motion(driver: Driver, rng: np.random.Generator) -> Motion:
    """Turn legs into smooth curves with what foot, road and engine add."""
    grid_s = np.arange(0.0, driver.duration_s + 2.0 / GRID_HZ, 1.0 / GRID_HZ)
    rpm, load = _legs_on_grid(driver, grid_s, rng)
    rpm = gaussian_filter1d(rpm, _INERTIA_S * GRID_HZ, mode="nearest")
    load = gaussian_filter1d(load, _FOOT_S * GRID_HZ, mode="nearest")
    gear = _gears(driver.legs, grid_s)
    # A step of load swings engine and car against each other when they are coupled.
    swing_s = np.arange(0.0, 2.0, 1.0 / GRID_HZ)
    swing = np.sin(2.0 * np.pi * driver.shuffle_hz * swing_s) * np.exp(-swing_s / 0.3)
    step = np.diff(load, prepend=load[0]) * (gear > 0)
    rpm = rpm + driver.shuffle_rpm * signal.fftconvolve(step, swing)[: rpm.size]
    rpm += _slow_noise(grid_s.size, 0.4, rng) * driver.flutter_rpm
    rpm += _slow_noise(grid_s.size, 0.7, rng) * driver.idle_hunt_rpm * (rpm < _IDLE_RPM)
    turns = CubicSpline(grid_s, rpm / 60.0).antiderivative()(grid_s)
    return Motion(
        grid_s=grid_s,
        rpm=rpm,
        revolutions=np.asarray(turns),
        load=load,
        gear=gear,
        speed_m_s=_road_speed(driver, grid_s, rpm, gear),
    )


def _legs_on_grid(
    driver: Driver, grid_s: FloatArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    rpm = np.full(grid_s.size, driver.start_rpm)
    load = np.zeros(grid_s.size)
    start_s, start_rpm = 0.0, driver.start_rpm
    for leg in driver.legs:
        here = grid_s >= start_s
        share = np.clip((grid_s[here] - start_s) / leg.duration_s, 0.0, 1.0)
        if leg.duration_s > _SLOW_LEG_S:
            waves = np.arange(1, 6)
            stray = np.sin(np.pi * np.outer(share, waves)) @ (rng.normal(size=5) / waves)
            share = share + driver.wobble * stray
        rpm[here] = start_rpm + (leg.end_rpm - start_rpm) * share
        load[here] = leg.load
        start_s, start_rpm = start_s + leg.duration_s, leg.end_rpm
    return rpm, load


def _slow_noise(count: int, time_s: float, rng: np.random.Generator) -> FloatArray:
    """Smooth noise of standard deviation 1, at its ends as well."""
    slow = gaussian_filter1d(rng.normal(size=count), time_s * GRID_HZ, mode="wrap")
    return np.asarray(slow * np.sqrt(2.0 * np.sqrt(np.pi) * time_s * GRID_HZ))


def _gears(legs: tuple[Leg, ...], grid_s: FloatArray) -> FloatArray:
    ends_s = np.cumsum([leg.duration_s for leg in legs])
    index = np.minimum(np.searchsorted(ends_s, grid_s, side="right"), len(legs) - 1)
    return np.array([-1.0 if leg.gear is None else leg.gear for leg in legs])[index]


def _road_speed(
    driver: Driver, grid_s: FloatArray, rpm: FloatArray, gear: FloatArray
) -> FloatArray:
    """Fixed to the engine in gear, between two gears a straight line."""
    speed = np.where(gear == 0, 0.0, np.nan)
    for number in range(1, driver.gearing.top + 1):
        here = gear == number
        speed[here] = rpm[here] * driver.gearing.speed_m_s(1.0, number)
    known = np.isfinite(speed)
    if not known.any():
        return np.zeros(grid_s.size)
    rolling = np.interp(grid_s, grid_s[known], speed[known])
    return np.asarray(gaussian_filter1d(rolling, 0.3 * GRID_HZ, mode="nearest"))
