"""A true car's drone, the curve that a drive would give of it, and whether it was cured."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks, savgol_filter

from tests.garage.gas import FloatArray
from tests.garage.level import level_db
from tests.garage.spec import TrueCar, Welded

_NEAR = (0.85, 1.18)
_PEAK_RPM = (1600.0, 3100.0)
_PEAK_HZ = (45.0, 180.0)
_LEAST_RISE_DB = 6.0
BIN_RATIO = 1.01
_TREND_TERMS = 3
_NOISE_DB = 0.5
_WAVY_NOISE_DB = 0.5  # load and throttle: neighbouring engine speeds share it
_WAVY_BINS = 6
_SAME_DRONE = 0.06  # natural logarithm of engine speed
CURED_DB, ELSEWHERE_DB = -10.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drone:
    """The drone that the driver hears; edges are 3 dB below the peak."""

    peak_rpm: float
    low_rpm: float
    high_rpm: float
    rise_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Curve of the order over engine speed as a drive gives it, and the drones read off it."""

    rpm: FloatArray
    level_db: FloatArray
    drone: Drone
    others: tuple[Drone, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What branches did to the car."""

    drone_db: float
    elsewhere_db: float
    mean_db: float = -np.inf  # of the mean square over the drone's band, where it is asked for

    @property
    def is_cured(self) -> bool:
        """By the definition in the numbers to reach."""
        return max(self.drone_db, self.mean_db) <= CURED_DB and self.elsewhere_db <= ELSEWHERE_DB


def drone_of(car: TrueCar) -> Drone | None:
    """Worst peak of the car's firing order in cruise, if it has one that stands 6 dB clear."""
    rpm = grid(car.range_rpm, 1.0025)
    return worst(rpm, level_db(car, rpm), car.order)


def sweep(
    car: TrueCar, branches: tuple[Welded, ...], rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Engine speed and level as one drive gives them, noise and all."""
    rpm = grid(car.range_rpm, BIN_RATIO)
    return rpm, level_db(car, rpm, branches) + noise_db(rpm.size, rng)


def noise_db(bins: int, rng: np.random.Generator) -> FloatArray:
    """What a drive adds to the level in each bin of engine speed."""
    wave = rng.standard_normal(bins + _WAVY_BINS - 1)
    wavy = np.convolve(wave, np.ones(_WAVY_BINS) / np.sqrt(_WAVY_BINS), mode="valid")
    return np.asarray(_NOISE_DB * rng.standard_normal(bins) + _WAVY_NOISE_DB * wavy)


def measure(car: TrueCar, heard: Drone, rng: np.random.Generator) -> Measured | None:
    """Sweep the car and read off the drone that was heard; None when noise hides it."""
    rpm, heard_db = sweep(car, (), rng)
    return read_off(rpm, heard_db, heard)


def read_off(rpm: FloatArray, heard_db: FloatArray, heard: Drone) -> Measured | None:
    """Read the drone that was heard off a noisy curve; None when noise hides it."""
    smooth_db = savgol_filter(heard_db, 7, 2)
    near = [
        drone
        for drone in _peaks(rpm, smooth_db)
        if abs(np.log(drone.peak_rpm / heard.peak_rpm)) < _SAME_DRONE
    ]
    drone = max(near, key=lambda drone: drone.rise_db, default=None)
    return None if drone is None else Measured(rpm=rpm, level_db=heard_db, drone=drone)


def change(car: TrueCar, drone: Drone, branches: tuple[Welded, ...]) -> Change:
    """Highest level in the drone's stretch and in the rest, after minus before."""
    rpm = grid(car.range_rpm, 1.0025)
    before, after = level_db(car, rpm), level_db(car, rpm, branches)
    near = nearness(rpm, drone)
    return Change(
        drone_db=float(after[near].max() - before[near].max()),
        elsewhere_db=float(after[~near].max() - before[~near].max()),
    )


def nearness(rpm: FloatArray, drone: Drone) -> NDArray[np.bool_]:
    """Which engine speeds count as the drone's own stretch."""
    return (rpm >= _NEAR[0] * drone.peak_rpm) & (rpm <= _NEAR[1] * drone.peak_rpm)


def grid(range_rpm: tuple[float, float], ratio: float) -> FloatArray:
    """Engine speeds as evenly spaced as the ear hears them."""
    low, high = range_rpm
    return np.geomspace(low, high, int(np.log(high / low) / np.log(ratio)) + 1)


def worst(rpm: FloatArray, level: FloatArray, order: float) -> Drone | None:
    """Highest rise over the slow trend among peaks in cruise."""
    cruising = in_cruise(rpm, level, order)
    return max(cruising, key=lambda drone: drone.rise_db, default=None)


def in_cruise(rpm: FloatArray, level: FloatArray, order: float) -> list[Drone]:
    """Peaks that stand clear of the slow trend where people cruise."""
    return [
        drone
        for drone in _peaks(rpm, level)
        if _PEAK_RPM[0] <= drone.peak_rpm <= _PEAK_RPM[1]
        and _PEAK_HZ[0] <= order * drone.peak_rpm / 60.0 <= _PEAK_HZ[1]
        and drone.rise_db >= _LEAST_RISE_DB
    ]


def _peaks(rpm: FloatArray, level: FloatArray) -> list[Drone]:
    """Peaks whose half-power points were driven."""
    place = np.log(rpm / rpm[0]) / np.log(rpm[-1] / rpm[0]) * 2.0 - 1.0
    trend = np.polynomial.legendre.legfit(place, level, _TREND_TERMS - 1)
    rise = level - np.polynomial.legendre.legval(place, trend)
    rise = rise - np.median(rise)
    found = []
    for peak in find_peaks(level)[0]:
        below = np.flatnonzero(level < level[peak] - 3.01)
        left, right = below[below < peak], below[below > peak]
        if left.size and right.size:
            found.append(
                Drone(
                    peak_rpm=float(rpm[peak]),
                    low_rpm=float(rpm[left[-1]]),
                    high_rpm=float(rpm[right[0]]),
                    rise_db=float(rise[peak]),
                )
            )
    return found
