"""The drone of an old session that holds levels and no sound.

Without sound there are no orders and no background to take off: the overall level is fitted as
if it were the firing order, which is said.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.rpm_bins import bin_centre_rpm
from analysis.drive import Drive
from analysis.errors import DriveError
from analysis.find.bands.drone_bands import fit_drones
from analysis.find.bands.fitted_curve import order_curve
from analysis.find.curves.driving_state import driving_state
from analysis.find.curves.gears import gear_ratios
from analysis.find.curves.order_curves import rising_passes
from analysis.find.curves.order_points import OrderPoints
from analysis.find.curves.pass_bins import PassBins, by_pass_and_bin
from analysis.find.curves.passes import pass_of
from analysis.find.sound.speed_track import gaps_between, track_from_rows
from analysis.find.sound.weighting import a_weighting_db
from analysis.find.speed.level_lag import LEVEL_STEP_S, level_lag
from analysis.findings import (
    Doubt,
    EngineSpeed,
    Findings,
    OrderCurve,
    OverallCurve,
    OverallPasses,
    TelemetryDelay,
    Weighting,
)
from analysis.words.trouble import by_time

_LEVELS = (
    ("level_z_db", "dB"),
    ("level_c_db", "dB(C)"),
    ("level_a_db", "dB(A)"),
)
_WEIGHTINGS = {
    "level_z_db": Weighting.Z,
    "level_c_db": Weighting.C,
    "level_a_db": Weighting.A,
}
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
    row_s = time_s + (lag.delay_s if lag else 0.0)
    rpm = track.at(row_s)
    known = np.isfinite(rpm) & np.isfinite(level_db)
    if np.count_nonzero(known) < _LEAST_ROWS:
        raise DriveError("level and engine speed are never known at the same time in this session")
    time_s, level_db, rpm = time_s[known], level_db[known], rpm[known]
    state = driving_state(rpm, drive.telemetry, row_s[known])
    passes = pass_of(time_s, rpm, state.gear)
    bins = by_pass_and_bin(passes, rpm)
    points = _points(order, bins, rpm, level_db)
    (fitted,) = fit_drones([points], 0.0)
    rising = rising_passes(passes, rpm)[points.pass_index]
    curve = order_curve(points, fitted, rising, bins.mean(state.gear), bins.mean(state.load_part))
    never = np.full(time_s.size, np.nan)
    return Findings(
        drive_name=drive.name,
        engine=drive.engine,
        bands=tuple(sorted(fitted.bands, key=lambda band: band.level_db, reverse=True)),
        curves=(curve,),
        overall=_overall(points, column),
        level_map=None,
        order_map=None,
        engine_speed=EngineSpeed(time_s=time_s, rpm=rpm, sigma_part=never, gear_index=state.gear),
        telemetry_delay=lag,
        level_unit=unit,
        full_scale_db=0.0,
        levels_only=True,
        duration_s=float(time_s[-1] - time_s[0]),
        warnings=_doubts(order, unit, time_s, lag, has_bands=bool(fitted.bands)),
        trouble=by_time(drive.trouble),
        marks_s=tuple(sorted(drive.marks_s)),
        overall_passes=(_passes_of(curve, column),),
        gear_ratios=gear_ratios(state.gear, rpm, state.road_speed_m_s),
        load_column=state.load_column,
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


def _points(order: float, bins: PassBins, rpm: FloatArray, level_db: FloatArray) -> OrderPoints:
    return OrderPoints(
        engine_order=order,
        pass_index=bins.pass_index,
        bin_index=bins.bin_index,
        rpm=bins.mean(rpm),
        seconds=LEVEL_STEP_S * bins.count.astype(np.float64),
        total_ms=bins.mean(10.0 ** (0.1 * level_db)),
        background_ms=np.zeros(bins.count.size),
        window_s=np.full(bins.count.size, LEVEL_STEP_S),
    )


def _passes_of(curve: OrderCurve, column: str) -> OverallPasses:
    """Take what stands for the order as what it is."""
    return OverallPasses(weighting=_WEIGHTINGS[column], **curve.pass_columns())


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
