"""Drives at one engine speed, drives kept between tests, and the level of one line of a sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

import tests.roads as roads
from tests.roads import (
    CarSpec,
    Driver,
    EngineSpec,
    Leg,
    RoadDrive,
    RoadNoise,
    RoadSpec,
    RpmLog,
    Scatter,
    drive_on,
)
from tests.roads.engine import evenly

RATE_HZ = 8000.0
SILENT = RoadNoise(tyres_db=-200.0, wind_db=-200.0, floor_db=-200.0)
LIKE_A_CLOCK = Scatter(level_db=0.0, timing_deg=0.0, width_share=0.0, wander_db=0.0)
EXACT_LOG = RpmLog(rate_hz=10.0, lag_s=0.0, jitter_s=0.0, step_rpm=1e-3, smoothing_s=0.0)


def steady(
    engine: EngineSpec, rpm: float, car: CarSpec | None = None, load: float = 1.0
) -> RoadSpec:
    return RoadSpec(
        name="steady",
        engine=replace(engine, scatter=LIKE_A_CLOCK, flow_noise_db=-200.0, pops_per_s=0.0),
        car=CarSpec(gas_swing=0.0) if car is None else replace(car, gas_swing=0.0),
        driver=Driver(
            start_rpm=rpm,
            legs=(Leg(duration_s=6.0, end_rpm=rpm, gear=5, load=load),),
            flutter_rpm=0.0,
            idle_hunt_rpm=0.0,
        ),
        noise=SILENT,
        log=EXACT_LOG,
    )


def even_engine(cylinders: int) -> EngineSpec:
    return EngineSpec(layout=str(cylinders), cylinders=evenly(cylinders))


def line_db(sound: NDArray[np.floating], frequency_hz: float) -> float:
    """Level of one line by projection under a Hann window, the first second left out."""
    sound = sound[int(RATE_HZ) :]
    window = np.hanning(sound.size)
    turned = sound * window * np.exp(-2j * np.pi * frequency_hz * np.arange(sound.size) / RATE_HZ)
    return float(20.0 * np.log10(2.0 * abs(turned.sum()) / window.sum() / np.sqrt(2.0) + 1e-15))


@cache
def drive_of(kind: str) -> RoadDrive:
    return drive_on(getattr(roads, kind)(np.random.default_rng(3)), 3)
