"""Findings made from known curves, for tests of what comes after ``find``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.interval import Interval
from analysis.basics.rpm_bins import bin_centre_rpm, bin_of
from analysis.drive import Engine
from analysis.find.causes import causes
from analysis.find.firing_layout import firing_layout
from analysis.findings import DroneBand, EngineSpeed, Findings, LockedTo, OrderCurve, OverallCurve

FULL_SCALE_DB = 120.0
_HANN_LINES = np.array([0.0, 1.0, 4.0, 1.0, 0.0]) / 6.0  # share of a tone's mean square


def drone_ms(rpm: FloatArray, peak_rpm: float, *, rise_db: float = 12.0) -> FloatArray:
    """Mean square of an order that rises by a resonance of 11 % half-power width."""
    rise = 10.0 ** (rise_db / 10.0)
    return np.asarray(1e-5 * (1.0 + rise / (1.0 + (18.0 * np.log(rpm / peak_rpm)) ** 2)))


def make_curve(
    engine_order: float,
    order_ms: FloatArray,
    rpm: FloatArray,
    *,
    passes: int = 3,
    background_ms: float = 0.0,
    pass_spread_db: float = 0.0,
    pass_gain_db: Sequence[float] | None = None,
    frames_per_bin: int = 2,
    rng: np.random.Generator | None = None,
) -> OrderCurve:
    """Passes through a known curve [shape=(n_bins,)].

    Each pass has its own gain, drawn or given. A point is the mean of some frames. In a frame the
    order, a steady tone, lies in the three middle ones of five spectral lines, as a Hann window
    spreads it; each line also holds complex Gaussian noise, and two lines aside tell how much.
    """
    rng = rng or np.random.default_rng(0)
    drawn_db = pass_spread_db * rng.standard_normal(passes)
    gain_db = drawn_db if pass_gain_db is None else np.asarray(pass_gain_db)
    tone_ms = 10.0 ** (gain_db[:, np.newaxis] / 10.0) * order_ms
    noise = rng.standard_normal((2, passes, rpm.size, frames_per_bin, 7))
    noise = (noise[0] + 1j * noise[1]) * np.sqrt(background_ms / 10.0)
    tone = np.sqrt(tone_ms)[..., np.newaxis, np.newaxis] * np.sqrt(_HANN_LINES)
    total = np.sum(np.abs(tone + noise[..., :5]) ** 2, axis=-1).mean(axis=-1)
    seen_background = 2.5 * np.sum(np.abs(noise[..., 5:]) ** 2, axis=-1).mean(axis=-1)
    points = total.size
    return OrderCurve(
        engine_order=engine_order,
        pass_index=np.repeat(np.arange(passes, dtype=np.int64), rpm.size),
        rising=np.ones(points, dtype=np.bool_),
        bin_index=np.tile(bin_of(rpm), passes),
        rpm=np.tile(rpm, passes),
        total_ms=total.ravel(),
        background_ms=seen_background.ravel(),
        seconds=np.full(points, 0.4),
        gear=np.full(points, np.nan),
        load_part=np.full(points, np.nan),
        trend_db=np.full(points, np.nan),
        fitted_db=np.full(points, np.nan),
    )


def amplified_curve(curve: OrderCurve, gain_db: float) -> OrderCurve:
    """Give the curve as if recorded ``gain_db`` louder."""
    gain = 10.0 ** (gain_db / 10.0)
    return replace(curve, total_ms=curve.total_ms * gain, background_ms=curve.background_ms * gain)


def grid(low_rpm: float = 1200.0, high_rpm: float = 3600.0) -> FloatArray:
    """Middles of the rpm bins from low to high."""
    first, last = bin_of(np.array([low_rpm, high_rpm]))
    return bin_centre_rpm(np.arange(first, last + 1, dtype=np.int64))


def make_band(engine_order: float, peak_rpm: float, *, level_db: float = 80.0) -> DroneBand:
    """A band of 11 % half-power width."""
    unknown = Interval(low=0.0, high=1e4)
    return DroneBand(
        engine_order=engine_order,
        peak_rpm=peak_rpm,
        low_rpm=peak_rpm / 1.055,
        high_rpm=peak_rpm * 1.055,
        rise_db=12.0,
        level_db=level_db,
        locked_to=LockedTo.UNKNOWN,
        peak_hz_ci95=unknown,
        low_hz_ci95=unknown,
        high_hz_ci95=unknown,
    )


def make_findings(
    curves: Sequence[OrderCurve],
    bands: Sequence[DroneBand] = (),
    *,
    name: str = "drive",
    level_unit: str = "dB re full scale",
    levels_only: bool = False,
    engine: Engine | None = None,
) -> Findings:
    """Findings with only what a comparison reads."""
    rpm = grid()
    level = np.full(rpm.size, 70.0)
    found = Findings(
        drive_name=name,
        engine=engine,
        bands=tuple(bands),
        curves=tuple(curves),
        overall=OverallCurve(
            rpm=rpm, level_z_db=level, level_c_db=level, level_a_db=level, seconds=level
        ),
        level_map=None,
        order_map=None,
        engine_speed=EngineSpeed(time_s=rpm, rpm=rpm, sigma_part=level, gear_index=level),
        telemetry_delay=None,
        level_unit=level_unit,
        full_scale_db=FULL_SCALE_DB,
        levels_only=levels_only,
        duration_s=60.0,
        warnings=(),
        trouble=(),
    )
    return explained(found)


def explained(found: Findings) -> Findings:
    """Findings with the causes of their bands, as ``find`` would give them."""
    return replace(found, causes=causes(found), firing_layout=firing_layout(found))
