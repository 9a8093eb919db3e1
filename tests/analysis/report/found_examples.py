"""Findings made up for tests: plausible shapes and sizes, no claim to be physics."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.drive import Engine, Trouble
from analysis.findings import (
    Doubt,
    DroneBand,
    EngineSpeed,
    Findings,
    LevelMap,
    LockedTo,
    OrderCurve,
    OrderMap,
    OverallCurve,
    TelemetryDelay,
)
from tests.analysis.made_findings import explained

SIX = Engine(cylinders=6)
RPM = np.arange(1210.0, 3400.0, 20.0)
_NAN = float("nan")


def band(
    peak_rpm: float = 2240.0,
    *,
    order: float = 3.0,
    rise_db: float = 13.0,
    locked_to: LockedTo = LockedTo.ENGINE,
) -> DroneBand:
    """Build a band 21 % wide."""
    low_rpm, high_rpm = 0.90 * peak_rpm, 1.11 * peak_rpm
    hz = order / 60.0
    return DroneBand(
        engine_order=order,
        peak_rpm=peak_rpm,
        low_rpm=low_rpm,
        high_rpm=high_rpm,
        rise_db=rise_db,
        level_db=-31.0,
        locked_to=locked_to,
        peak_hz_ci95=Interval(low=peak_rpm * hz - 0.8, high=peak_rpm * hz + 0.7),
        low_hz_ci95=Interval(low=low_rpm * hz - 0.9, high=low_rpm * hz + 0.9),
        high_hz_ci95=Interval(low=high_rpm * hz - 1.2, high=high_rpm * hz + 1.2),
    )


def resonance_db(rpm: FloatArray, bands: tuple[DroneBand, ...]) -> FloatArray:
    power = np.ones_like(rpm)
    for one in bands:
        half = 0.5 * (one.high_rpm - one.low_rpm)
        power += 10.0 ** (one.rise_db / 10.0) / (1.0 + ((rpm - one.peak_rpm) / half) ** 2)
    return 10.0 * np.log10(power)


@cache
def curve(order: float, bands: tuple[DroneBand, ...], passes: int = 4) -> OrderCurve:
    """Build an order with the bands on it."""
    rng = np.random.default_rng(int(order * 2))
    rpm = np.tile(RPM, passes)
    trend_db = -46.0 + rpm / 700.0 - 3.0 * abs(order - 3.0)
    if order % SIX.firing_order:
        trend_db -= 22.0  # an even engine hardly has it
    fitted_db = trend_db + resonance_db(rpm, tuple(b for b in bands if b.engine_order == order))
    seen_ms = 10.0 ** ((fitted_db + rng.normal(0.0, 1.0, rpm.size)) / 10.0)
    background_ms = np.full(rpm.size, 10.0 ** (-5.8))
    return OrderCurve(
        engine_order=order,
        pass_index=np.repeat(np.arange(passes), RPM.size),
        rising=np.repeat(np.arange(passes) % 2 == 0, RPM.size),
        bin_index=np.tile(np.arange(RPM.size), passes),
        rpm=rpm + rng.normal(0.0, 2.0, rpm.size),
        total_ms=seen_ms + background_ms,
        background_ms=background_ms,
        seconds=np.full(rpm.size, 0.5),
        gear=np.repeat(np.arange(passes) // 2, RPM.size).astype(np.float64),
        load_part=np.full(rpm.size, _NAN),
        trend_db=trend_db,
        fitted_db=fitted_db,
    )


@cache
def level_map(bands: tuple[DroneBand, ...]) -> LevelMap:
    """Build a map with the order lines and a few empty rows."""
    rng = np.random.default_rng(1)
    frequency_hz = np.linspace(10.0, 600.0, 296)
    level_db = -62.0 - frequency_hz / 40.0 + rng.normal(0.0, 1.5, (RPM.size, frequency_hz.size))
    for order in (1.5, 3.0, 4.5, 6.0):
        line_hz = order * RPM[:, None] / 60.0
        top = (
            -50.0
            - 4.0 * abs(order - 3.0)
            + resonance_db(RPM, tuple(b for b in bands if b.engine_order == order))
        )
        level_db = np.maximum(level_db, top[:, None] - ((frequency_hz - line_hz) / 1.2) ** 2)
    level_db[40:42] = _NAN
    return LevelMap(rpm=RPM.copy(), frequency_hz=frequency_hz, level_db=level_db)


@cache
def order_map(bands: tuple[DroneBand, ...]) -> OrderMap:
    """Build a map with upright order lines."""
    rng = np.random.default_rng(2)
    order = np.arange(201) / 16.0
    level_db = -62.0 - order + rng.normal(0.0, 1.5, (RPM.size, order.size))
    for strong in (1.5, 3.0, 4.5, 6.0):
        top = (
            -50.0
            - 4.0 * abs(strong - 3.0)
            + resonance_db(RPM, tuple(b for b in bands if b.engine_order == strong))
        )
        level_db = np.maximum(level_db, top[:, None] - (16.0 * (order - strong)) ** 2)
    return OrderMap(rpm=RPM.copy(), engine_order=order, level_db=level_db)


@cache
def findings(
    *bands: DroneBand,
    name: str = "baseline drive",
    warnings: tuple[Doubt, ...] = (),
    trouble: tuple[Trouble, ...] = (),
) -> Findings:
    """Build what `find` would give for a drive with sound."""
    z_db = -34.0 + resonance_db(RPM, bands) * 0.6 + RPM / 1000.0
    time_s = np.linspace(0.0, 180.0, 1800)
    found = Findings(
        drive_name=name,
        engine=SIX,
        bands=bands,
        curves=tuple(curve(order, bands) for order in np.arange(0.5, 12.5, 0.5).tolist()),
        overall=OverallCurve(
            rpm=RPM.copy(),
            level_z_db=z_db,
            level_c_db=z_db - 0.6,
            level_a_db=z_db - 17.0,
            seconds=np.full(RPM.size, 2.0),
        ),
        level_map=level_map(bands),
        order_map=order_map(bands),
        engine_speed=EngineSpeed(
            time_s=time_s,
            rpm=2300.0 - 1080.0 * np.cos(2.0 * np.pi * time_s / 90.0),
            sigma_part=np.full(time_s.size, 0.0006),
            gear_index=np.where(time_s < 90.0, 0.0, 1.0),
        ),
        telemetry_delay=TelemetryDelay(
            delay_s=0.47, ci95_s=Interval(low=0.45, high=0.49), drift_ppm=12.0
        ),
        level_unit="dB re full scale",
        full_scale_db=0.0,
        levels_only=False,
        duration_s=180.0,
        warnings=warnings,
        trouble=trouble,
    )
    return explained(found)


def _as_levels(one: OrderCurve, offset_db: float) -> OrderCurve:
    """Logged levels: already in dB(A), with nothing taken off."""
    return replace(
        one,
        total_ms=one.total_ms * 10.0 ** (offset_db / 10.0),
        background_ms=np.zeros_like(one.background_ms),
        trend_db=one.trend_db + offset_db,
        fitted_db=one.fitted_db + offset_db,
    )


def levels_only() -> Findings:
    """Build an old drive: rpm and dB(A), nothing else."""
    one = band(locked_to=LockedTo.UNKNOWN, rise_db=9.0)
    full = findings(
        one,
        name="old levels",
        warnings=(
            Doubt(code="levels_only", message="this drive has levels only; log one with sound"),
            Doubt(code="one_gear_only", message="only one gear was driven"),
        ),
    )
    no_level = np.full(RPM.size, _NAN)
    return replace(
        full,
        curves=(_as_levels(curve(3.0, (one,), passes=2), 106.0),),
        overall=replace(full.overall, level_z_db=no_level, level_c_db=no_level),
        level_map=None,
        order_map=None,
        engine_speed=replace(
            full.engine_speed, gear_index=np.full(full.engine_speed.time_s.size, _NAN)
        ),
        telemetry_delay=None,
        level_unit="dB(A)",
        full_scale_db=0.0,
        levels_only=True,
    )


def one_gear_doubts() -> tuple[Doubt, ...]:
    """Two usual warnings."""
    return (
        Doubt(code="one_gear_only", message="only one gear was driven"),
        Doubt(code="clipped_audio", message="0.4 s of the sound is clipped"),
    )
