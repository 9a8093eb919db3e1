"""The drone of an old session that holds levels and no sound.

Without sound there are no orders and no background to take off: the overall level is fitted as
if it were the firing order, which is said.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.drive import Drive
from analysis.errors import DriveError
from analysis.find.bands.drone_bands import fit_drones
from analysis.find.bands.fitted_curve import order_curve
from analysis.find.curves.driven import driven_at
from analysis.find.curves.order_curves import binned
from analysis.find.curves.order_points import OrderPoints
from analysis.find.doubts.of_levels import doubts_of_levels
from analysis.find.sound.order_tracking import OrderFrames
from analysis.find.sound.speed_track import gaps_between, track_from_rows
from analysis.find.speed.level_lag import LEVEL_STEP_S, level_lag
from analysis.findings import EngineSpeed, Findings, OverallCurve, OverallPasses, Weighting
from analysis.words.trouble import by_time

_LEVELS = {
    "level_z_db": ("dB", Weighting.Z),
    "level_c_db": ("dB(C)", Weighting.C),
    "level_a_db": ("dB(A)", Weighting.A),
}
_LEAST_ROWS = 20  # judgement: with fewer rows than this no sweep is seen; refused


def find_in_levels(drive: Drive) -> Findings:
    """Drone bands from levels over time.

    Raises
    ------
    DriveError
        No level column, too few rows, or no cylinder count to name the firing order.
    """
    column = _level_column(drive)
    unit, weighting = _LEVELS[column]
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
    row_s = time_s + (lag.delay_s if lag else 0.0)
    rpm = track.at(row_s)
    known = np.isfinite(rpm) & np.isfinite(level_db)
    if np.count_nonzero(known) < _LEAST_ROWS:
        raise DriveError("level and engine speed are never known at the same time in this session")
    time_s, level_db, rpm = time_s[known], level_db[known], rpm[known]
    driven = driven_at(time_s, rpm, drive.telemetry, row_s[known])
    (points,) = binned(_as_frames(time_s, rpm, level_db), driven, np.array([order]), LEVEL_STEP_S)
    points = replace(points, window_s=np.full(points.rpm.size, LEVEL_STEP_S))
    (fitted,) = fit_drones([points], 0.0)
    curve = order_curve(fitted)
    never = np.full(time_s.size, np.nan)
    return Findings(
        drive_name=drive.name,
        engine=drive.engine,
        bands=tuple(sorted(fitted.bands, key=lambda band: band.level_db, reverse=True)),
        curves=(curve,),
        overall=_overall(points, column),
        level_map=None,
        order_map=None,
        engine_speed=EngineSpeed(time_s=time_s, rpm=rpm, sigma_part=never, gear_index=driven.gear),
        telemetry_delay=lag,
        level_unit=unit,
        full_scale_db=0.0,
        levels_only=True,
        duration_s=float(time_s[-1] - time_s[0]),
        warnings=tuple(doubts_of_levels(order, unit, time_s, lag, has_bands=bool(fitted.bands))),
        trouble=by_time(drive.trouble),
        marks_s=tuple(sorted(drive.marks_s)),
        overall_passes=(OverallPasses(weighting=weighting, **curve.pass_columns()),),
        gear_ratios=driven.gear_ratios,
        load_column=driven.load_column,
    )


def _level_column(drive: Drive) -> str:
    for column in _LEVELS:
        if column in drive.telemetry.columns and drive.telemetry[column].notna().any():
            return column
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


def _as_frames(time_s: FloatArray, rpm: FloatArray, level_db: FloatArray) -> OrderFrames:
    """Levels as frames of one order, with no background known."""
    total_ms = 10.0 ** (0.1 * level_db[:, np.newaxis])
    return OrderFrames(
        time_s=time_s, rpm=rpm, total_ms=total_ms, background_ms=np.zeros_like(total_ms)
    )


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
