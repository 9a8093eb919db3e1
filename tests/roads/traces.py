"""How people drive: legs for sweeps, for the gears from a standstill, for cruising and coasting.

Sizes are judgement: what ordinary driving looks like in a log; they move only what is driven.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable

import numpy as np

from tests.roads.spec import Driver, Gearing, Leg

TRACES = ("sweep", "gears", "country", "cruise")


def random_driver(rng: np.random.Generator, trace: str, low_rpm: float, high_rpm: float) -> Driver:
    """A driver of one of ``TRACES``, or of "top gears", over about this range of engine speed."""
    gearing = Gearing(
        ratios=tuple(np.array([3.6, 2.1, 1.42, 1.08, 0.85]) * rng.uniform(0.9, 1.1)),
        final_drive=float(rng.uniform(3.0, 4.3)),
        wheel_m=float(rng.uniform(1.85, 2.15)),
    )
    start_rpm, legs = _MAKERS[trace](rng, gearing, low_rpm, high_rpm)
    return Driver(
        start_rpm=start_rpm,
        legs=tuple(legs),
        gearing=gearing,
        wobble=float(rng.uniform(0.02, 0.09)),
        flutter_rpm=float(rng.uniform(1.0, 8.0)),
        idle_hunt_rpm=float(rng.uniform(5.0, 25.0)),
        shuffle_rpm=float(rng.uniform(10.0, 90.0)),
        shuffle_hz=float(rng.uniform(2.0, 5.0)),
    )


def _sweep(
    rng: np.random.Generator, gearing: Gearing, low_rpm: float, high_rpm: float
) -> tuple[float, list[Leg]]:
    """A slow climb under load, and back with some load or none."""
    gear = int(rng.integers(2, 5))
    legs = [Leg(duration_s=3.0, end_rpm=low_rpm, gear=gear, load=0.3)]
    legs += _up_and_down(rng, gear, low_rpm, high_rpm)
    if rng.uniform() < 0.5:
        legs += _up_and_down(rng, gear, low_rpm, high_rpm)
    legs.append(Leg(duration_s=3.0, end_rpm=low_rpm, gear=gear, load=0.3))
    return low_rpm, legs


def _up_and_down(rng: np.random.Generator, gear: int, low: float, high: float) -> list[Leg]:
    back_load = float(rng.choice([0.0, 0.15, 0.4, 0.7]))
    up_s, down_s, hold_s = rng.uniform(14.0, 35.0), rng.uniform(12.0, 25.0), rng.uniform(1.0, 4.0)
    return [
        Leg(duration_s=float(up_s), end_rpm=high, gear=gear, load=float(rng.uniform(0.6, 1.0))),
        Leg(duration_s=float(hold_s), end_rpm=high, gear=gear, load=0.5),
        Leg(duration_s=float(down_s), end_rpm=low, gear=gear, load=back_load),
    ]


def _gears(
    rng: np.random.Generator, gearing: Gearing, low_rpm: float, high_rpm: float
) -> tuple[float, list[Leg]]:
    """Idle, pull away, change up, cruise, a slow climb, coast down, stop."""
    idle_rpm = float(rng.uniform(680.0, 920.0))
    legs = [Leg(duration_s=float(rng.uniform(4.0, 9.0)), end_rpm=idle_rpm, gear=0, load=0.08)]
    if rng.uniform() < 0.5:
        legs += _blip(rng, idle_rpm, 0)
    legs += [
        Leg(duration_s=0.8, end_rpm=1300.0, gear=None, load=0.3),
        Leg(duration_s=2.0, end_rpm=0.6 * high_rpm, gear=1, load=float(rng.uniform(0.5, 1.0))),
    ]
    top = int(rng.integers(3, 5))
    rpm = 0.6 * high_rpm
    for gear in range(2, top + 1):
        legs.append(_shift(gearing, gear - 1, gear, rpm))
        rpm = float(rng.uniform(0.6, 0.8)) * high_rpm
        length_s = float(rng.uniform(2.0, 5.0))
        legs.append(
            Leg(duration_s=length_s, end_rpm=rpm, gear=gear, load=float(rng.uniform(0.5, 1.0)))
        )
    cruise_rpm = 0.55 * high_rpm
    legs += [
        Leg(duration_s=3.0, end_rpm=cruise_rpm, gear=top, load=0.0),
        Leg(duration_s=float(rng.uniform(6, 12)), end_rpm=cruise_rpm, gear=top, load=0.25),
        Leg(duration_s=4.0, end_rpm=low_rpm, gear=top, load=0.0),
    ]
    legs += _up_and_down(rng, top, low_rpm, high_rpm)
    legs += [
        Leg(duration_s=0.6, end_rpm=idle_rpm + 150.0, gear=None, load=0.05),
        Leg(duration_s=4.0, end_rpm=idle_rpm, gear=None, load=0.06),
        Leg(duration_s=4.0, end_rpm=idle_rpm, gear=0, load=0.06),
    ]
    return idle_rpm, legs


def _country(
    rng: np.random.Generator, gearing: Gearing, low_rpm: float, high_rpm: float
) -> tuple[float, list[Leg]]:
    """Cruise, tip in, change down with a blip, overtake, overrun, and one slow climb."""
    gear = int(rng.integers(3, 5))
    rpm = float(rng.uniform(0.4, 0.6)) * high_rpm
    start = rpm
    legs: list[Leg] = []
    for _ in range(int(rng.integers(2, 4))):
        steady_s = float(rng.uniform(4.0, 10.0))
        legs.append(
            Leg(duration_s=steady_s, end_rpm=rpm, gear=gear, load=float(rng.uniform(0.15, 0.35)))
        )
        quick = min(rpm * float(rng.uniform(1.15, 1.5)), high_rpm)
        legs.append(Leg(duration_s=float(rng.uniform(2, 5)), end_rpm=quick, gear=gear, load=1.0))
        back = float(rng.uniform(0.4, 0.7)) * high_rpm
        legs.append(Leg(duration_s=float(rng.uniform(2, 6)), end_rpm=back, gear=gear, load=0.0))
        rpm = back
    ratio = gearing.ratios[gear - 2] / gearing.ratios[gear - 1]
    down_rpm = min(rpm * ratio, high_rpm)
    legs.append(Leg(duration_s=0.5, end_rpm=down_rpm, gear=None, load=0.3))
    legs.append(Leg(duration_s=3.0, end_rpm=high_rpm, gear=gear - 1, load=1.0))
    legs.append(_shift(gearing, gear - 1, gear, high_rpm))
    legs.append(Leg(duration_s=5.0, end_rpm=low_rpm, gear=gear, load=0.0))
    return start, legs + _up_and_down(rng, gear, low_rpm, high_rpm)


def _cruise(
    rng: np.random.Generator, gearing: Gearing, low_rpm: float, high_rpm: float
) -> tuple[float, list[Leg]]:
    """Top gear at light load, steady and slowly through the speeds of country roads."""
    low, high = max(low_rpm, 1150.0), min(high_rpm, 3200.0)
    legs = [Leg(duration_s=4.0, end_rpm=low, gear=gearing.top, load=0.3)]
    for _ in range(2):
        light, hold_rpm = float(rng.uniform(0.25, 0.45)), float(rng.uniform(1500.0, 2300.0))
        legs += [
            Leg(
                duration_s=float(rng.uniform(6, 12)), end_rpm=hold_rpm, gear=gearing.top, load=light
            ),
            Leg(
                duration_s=float(rng.uniform(5, 15)), end_rpm=hold_rpm, gear=gearing.top, load=0.25
            ),
            Leg(duration_s=float(rng.uniform(8, 15)), end_rpm=high, gear=gearing.top, load=light),
            Leg(duration_s=float(rng.uniform(8, 14)), end_rpm=low, gear=gearing.top, load=0.0),
        ]
    return low, legs


def _top_gears(
    rng: np.random.Generator, gearing: Gearing, low_rpm: float, high_rpm: float
) -> tuple[float, list[Leg]]:
    """The same engine speeds in each of the three highest gears, at light load."""
    legs = [Leg(duration_s=3.0, end_rpm=low_rpm, gear=gearing.top - 2, load=0.3)]
    for gear in range(gearing.top - 2, gearing.top + 1):
        up_s, down_s = float(rng.uniform(12.0, 20.0)), float(rng.uniform(6.0, 12.0))
        light = float(rng.uniform(0.25, 0.45))
        legs += [
            Leg(duration_s=up_s, end_rpm=high_rpm, gear=gear, load=light),
            Leg(duration_s=down_s, end_rpm=low_rpm, gear=gear, load=0.0),
            Leg(duration_s=0.5, end_rpm=low_rpm, gear=None, load=0.03),
        ]
    return low_rpm, legs


def _shift(gearing: Gearing, old: int, new: int, rpm: float) -> Leg:
    ratio = gearing.ratios[new - 1] / gearing.ratios[old - 1]
    return Leg(duration_s=0.5, end_rpm=rpm * ratio, gear=None, load=0.03)


def _blip(rng: np.random.Generator, idle_rpm: float, gear: int | None) -> list[Leg]:
    top = float(rng.uniform(2200.0, 3800.0))
    return [
        Leg(duration_s=0.5, end_rpm=top, gear=gear, load=0.7),
        Leg(duration_s=1.3, end_rpm=idle_rpm, gear=gear, load=0.0),
        Leg(duration_s=1.5, end_rpm=idle_rpm, gear=gear, load=0.08),
    ]


_Maker = Callable[[np.random.Generator, Gearing, float, float], tuple[float, list[Leg]]]
_MAKERS: dict[str, _Maker] = {
    "sweep": _sweep,
    "gears": _gears,
    "country": _country,
    "cruise": _cruise,
    "top gears": _top_gears,
}
