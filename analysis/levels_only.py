"""The drone of an old session that holds levels and no sound.

Without sound there are no orders and no background to take off: the overall level is fitted as
if it were the firing order, which is said.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.drive import Drive, FloatArray, IntArray
from analysis.drone_bands import fit_drones
from analysis.engine_speed import gaps_between, track_from_rows
from analysis.errors import DriveError
from analysis.findings import (
    Doubt,
    EngineSpeed,
    Findings,
    OverallCurve,
    TelemetryDelay,
)
from analysis.fitted_curve import order_curve
from analysis.level_lag import LEVEL_STEP_S, level_lag
from analysis.levels import a_weighting_db
from analysis.order_curves import rising_passes
from analysis.order_points import OrderPoints
from analysis.passes import pass_of
from analysis.rpm_bins import bin_centre_rpm, bin_of
from analysis.trouble_words import by_time

_LEVELS = (
    ("level_z_db", "dB"),
    ("level_c_db", "dB(C)"),
    ("level_a_db", "dB(A)"),
)
_LEAST_ROWS = 20
_DRONE_HZ = 100.0


def find_in_levels(drive: Drive) -> Findings:
    """Drone bands from levels over time.

    Raises
    ------
    DriveError
        No level column, too few rows, or no cylinder count to name the firing order.
    """
    column, unit = _level_column(drive)
    if drive.engine is None:
        raise DriveError(
            "a session without sound needs the number of cylinders to name the firing order; "
            "say --cylinders N, or give a car file"
        )
    order = drive.engine.firing_order
    rows = drive.telemetry[["time_s", column]].dropna()
    if len(rows) < _LEAST_ROWS:
        raise DriveError(
            f"this session has {len(rows)} rows with a level; at least {_LEAST_ROWS} are needed"
        )
    track = track_from_rows(drive.telemetry)
    time_s, level_db = _even_levels(
        rows["time_s"].to_numpy(dtype=np.float64), rows[column].to_numpy(dtype=np.float64)
    )
    lag = level_lag(time_s, level_db, track)
    rpm = track.at(time_s + (lag.delay_s if lag else 0.0))
    known = np.isfinite(rpm) & np.isfinite(level_db)
    if np.count_nonzero(known) < _LEAST_ROWS:
        raise DriveError("level and engine speed are never known at the same time in this session")
    time_s, level_db, rpm = time_s[known], level_db[known], rpm[known]
    points = _points(order, time_s, rpm, level_db)
    (fitted,) = fit_drones([points], 0.0)
    rising = rising_passes(_passes(time_s, rpm), rpm)[points.pass_index]
    unknown = np.full(points.rpm.size, np.nan)
    never = np.full(time_s.size, np.nan)
    return Findings(
        drive_name=drive.name,
        engine=drive.engine,
        bands=tuple(sorted(fitted.bands, key=lambda band: band.level_db, reverse=True)),
        curves=(order_curve(points, fitted, rising, unknown, unknown),),
        overall=_overall(points, column),
        level_map=None,
        order_map=None,
        engine_speed=EngineSpeed(time_s=time_s, rpm=rpm, sigma_part=never, gear_index=never),
        telemetry_delay=lag,
        level_unit=unit,
        full_scale_db=0.0,
        levels_only=True,
        duration_s=float(time_s[-1] - time_s[0]),
        warnings=_doubts(order, unit, time_s, lag, has_bands=bool(fitted.bands)),
        trouble=by_time(drive.trouble),
        marks_s=tuple(sorted(drive.marks_s)),
    )


def _level_column(drive: Drive) -> tuple[str, str]:
    for column, unit in _LEVELS:
        if column in drive.telemetry.columns and drive.telemetry[column].notna().any():
            return column, unit
    raise DriveError(
        "this session has neither sound nor a level; import it again with --audio, or with a "
        "telemetry file that has a level in dB"
    )


def _even_levels(time_s: FloatArray, level_db: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Levels every 0.1 s, NaN in gaps."""
    grid = np.arange(time_s[0], time_s[-1] + 0.5 * LEVEL_STEP_S, LEVEL_STEP_S)
    even = np.interp(grid, time_s, level_db)
    for start, end in gaps_between(time_s):
        even[(grid > start) & (grid < end)] = np.nan
    return grid, even


def _points(order: float, time_s: FloatArray, rpm: FloatArray, level_db: FloatArray) -> OrderPoints:
    passes = _passes(time_s, rpm)
    key = np.stack([passes, bin_of(rpm)], axis=1)
    pairs, where, count = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    where = where.ravel()
    mean_square = np.bincount(where, weights=10.0 ** (0.1 * level_db)) / count
    return OrderPoints(
        engine_order=order,
        pass_index=pairs[:, 0],
        bin_index=pairs[:, 1],
        rpm=np.bincount(where, weights=rpm) / count,
        seconds=LEVEL_STEP_S * count.astype(np.float64),
        total_ms=mean_square,
        background_ms=np.zeros(count.size),
        window_s=np.full(count.size, LEVEL_STEP_S),
    )


def _passes(time_s: FloatArray, rpm: FloatArray) -> IntArray:
    return pass_of(time_s, rpm, np.full(time_s.size, np.nan))


def _overall(points: OrderPoints, column: str) -> OverallCurve:
    index, where = np.unique(points.bin_index, return_inverse=True)
    seconds = np.bincount(where, weights=points.seconds).astype(np.float64)
    level_db = 10.0 * np.log10(
        np.bincount(where, weights=points.seconds * points.total_ms) / seconds
    )
    unknown = np.full(index.size, np.nan)
    return OverallCurve(
        rpm=bin_centre_rpm(index),
        level_z_db=level_db if column == "level_z_db" else unknown,
        level_c_db=level_db if column == "level_c_db" else unknown,
        level_a_db=level_db if column == "level_a_db" else unknown,
        seconds=seconds,
    )


def _hidden(unit: str) -> str:
    """Say what an A-weighted level does not show."""
    if unit != "dB(A)":
        return ""
    lost_db = -float(a_weighting_db(_DRONE_HZ))
    return (
        f" The A-weighting takes about {lost_db:.0f} dB off at {_DRONE_HZ:.0f} Hz (IEC 61672-1), "
        "so a drone can hide below the wind and tyres."
    )


def _doubts(
    order: float, unit: str, time_s: FloatArray, lag: TelemetryDelay | None, *, has_bands: bool
) -> tuple[Doubt, ...]:
    levels = Doubt(
        code="levels_only",
        message=(
            f"This session has levels in {unit} and no sound: the drone is assumed to be the "
            f"firing order ({order:g}), road and wind noise could not be taken off, and the "
            f"cause cannot be told.{_hidden(unit)} Record sound to be sure before you cut metal."
        ),
    )
    gear = Doubt(
        code="one_gear_only",
        message=(
            "From levels alone a drone of the engine cannot be told from one of tyres or driveline."
        ),
    )
    doubts = [levels, gear] if has_bands else [levels]
    if lag is None:
        doubts.append(
            Doubt(
                code="telemetry_unaligned",
                message=(
                    "The levels do not show how late the engine speed was logged, so it was taken "
                    "as on time: a band can be off and too wide. Log slow sweeps, up and down."
                ),
            )
        )
    gaps = gaps_between(time_s)
    if gaps:
        doubts.append(
            Doubt(
                code="telemetry_gap",
                message=(
                    f"Levels or engine speed are missing in {len(gaps)} stretches; they were left "
                    "out."
                ),
            )
        )
    return tuple(doubts)
