"""Find the drone: from a drive to bands, in one readable line of stages.

sound -> working copy -> telemetry delay -> refined engine speed -> order frames
      -> passes, gears and rpm bins -> one fit per order -> bands, doubts, pictures.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from threadpoolctl import threadpool_limits

from analysis.basics.arrays import FloatArray
from analysis.drive import Drive, Engine, Sound
from analysis.errors import DriveError
from analysis.find.bands.audible import audible_bands
from analysis.find.bands.coasting import Cruise, coasting_view
from analysis.find.bands.drone_bands import FittedOrder, fit_drones
from analysis.find.bands.fitted_curve import order_curve
from analysis.find.bands.lock import locked_to
from analysis.find.bands.views import gear_views, load_views
from analysis.find.curves.driving_state import driving_state, told_at
from analysis.find.curves.gears import gear_ratios
from analysis.find.curves.order_curves import BinnedOrders, binned
from analysis.find.curves.order_points import OrderPoints
from analysis.find.curves.overall_passes import overall_passes
from analysis.find.curves.passes import pass_of
from analysis.find.doubts import Evidence, doubts
from analysis.find.drive_check import check_drive
from analysis.find.from_levels import find_in_levels
from analysis.find.sound.automatic_gain import automatic_gain
from analysis.find.sound.level_map import level_map
from analysis.find.sound.order_map import OrderSums
from analysis.find.sound.order_tracking import order_spectra, track_orders
from analysis.find.sound.speed_track import (
    SpeedTrack,
    has_engine_speed,
    row_times,
    shifted,
    track_from_rows,
)
from analysis.find.sound.weighting import FULL_SCALE_SINE_DB
from analysis.find.sound.wide_bands import band_levels
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import speed_from_sound
from analysis.find.speed.order_phase import speed_by_phase
from analysis.find.speed.refinement import refined_speed
from analysis.find.speed.telemetry_delay import measure_delay
from analysis.find.withheld import withheld_because
from analysis.findings import DroneBand, EngineSpeed, Findings, GearView
from analysis.words.trouble import by_time

_LEAST_FRAMES = 30
_LEAST_HEARD_S = 10.0
_PICTURE_POINTS = 2000


def find_drone(drive: Drive, *, progress: Callable[[float], None] | None = None) -> Findings:
    """Drone bands of a drive, worst first, with the curves and doubts behind them.

    Parameters
    ----------
    drive : Drive
    progress : callable, optional
        Called with the part done, 0 to 1.

    Raises
    ------
    DriveError
        The drive is damaged, or holds neither engine speed nor a sound that tells it, no level, or
        no stretch in which both sound and engine speed are known.
    """
    check_drive(drive)
    report = progress or _silent
    if drive.sound is None:
        return find_in_levels(drive)
    told = _told_speed(drive)
    with WorkingCopy(drive.sound, lambda part: report(0.35 * part)) as copy:
        return _find_in_sound(drive, drive.sound, copy, told, report)


def _find_in_sound(
    drive: Drive,
    sound: Sound,
    copy: WorkingCopy,
    told: SpeedTrack | Engine,
    report: Callable[[float], None],
) -> Findings:
    is_heard = isinstance(told, Engine)
    delay = None if isinstance(told, Engine) else measure_delay(copy, told)
    delay_s, drift_ppm = (delay.delay_s, delay.drift_ppm) if delay else (0.0, 0.0)
    if isinstance(told, Engine):
        track = _heard_speed(copy, told, lambda part: report(0.35 + 0.3 * part))
    else:
        track = shifted(told, delay_s, drift_ppm, copy.duration_s)
        report(0.5)
        if np.count_nonzero(np.isfinite(track.rpm)) * track.step_s < 1.0:
            raise DriveError(
                "sound and telemetry do not overlap; check that both files are of the same drive"
            )
    sigma_part = np.full(track.rpm.size, np.nan)
    if is_heard or delay is not None:
        track, sigma_part = speed_by_phase(copy, refined_speed(copy, track))
    report(0.7)
    order_sums = OrderSums()
    frames = track_orders(order_sums.watching(order_spectra(copy, track)))
    if frames.time_s.size < _LEAST_FRAMES:
        lost_s = copy.gaps.lost_s
        raise DriveError(
            f"only {frames.time_s.size / 10:.0f} s of the drive have both sound and engine speed; "
            "at least 3 s are needed: "
            + (
                f"{lost_s:,.0f} s of its sound were lost, so drive again"
                if lost_s > 0.1 * copy.duration_s
                else "check that both files are of the same drive"
            )
        )
    report(0.85)
    row_s = row_times(frames.time_s, delay_s, drift_ppm, copy.duration_s)
    state = driving_state(frames.rpm, drive.telemetry, row_s)
    passes = pass_of(frames.time_s, frames.rpm, state.gear)
    bins = binned(frames, passes, state)
    offset_db = FULL_SCALE_SINE_DB + (sound.full_scale_db_spl or 0.0)
    picture, overall, frame_levels = level_map(
        copy, track, offset_db, lambda part: report(0.85 + 0.1 * part)
    )
    points = bins.by_order()
    # many small solves: the threads of a linear algebra library only get in each other's way
    with threadpool_limits(limits=1, user_api="blas"):
        fitted = fit_drones(points, offset_db)
    bands = audible_bands(_seen_bands(points, fitted, bins, offset_db), points, overall, offset_db)
    cruise_s = Cruise.times(copy.duration_s)
    row_s = row_times(cruise_s, delay_s, drift_ppm, copy.duration_s)
    road_speed_m_s = told_at(drive.telemetry, "road_speed_m_s", row_s)
    cruise = Cruise(time_s=cruise_s, rpm=track.at(cruise_s), road_speed_m_s=road_speed_m_s)
    bands = tuple(
        _with_coasting(band, coasting_view(band, cruise, copy, drive.engine, offset_db))
        for band in bands
    )
    gain = automatic_gain(frames)
    warnings = doubts(
        Evidence(
            facts=copy.facts,
            levels=band_levels(copy),
            gain=gain,
            is_flattened=bool(sound.response),
            is_speed_heard=is_heard,
            delay=delay,
            telemetry=drive.telemetry,
            speed=track,
            gaps=copy.gaps,
            duration_s=copy.duration_s,
            frames=frames,
            pass_index=passes,
            gear=state.gear,
            bands=bands,
        )
    )
    withheld = withheld_because(warnings, copy.facts.clipped_fraction, gain)
    if withheld:
        bands, fitted = (), (FittedOrder(fit=None, bands=()),) * len(fitted)
    report(1.0)
    return Findings(
        drive_name=drive.name,
        engine=drive.engine,
        bands=bands,
        curves=tuple(
            order_curve(each, order, bins.rising, bins.gear, bins.load_part)
            for each, order in zip(points, fitted, strict=True)
        ),
        overall=overall,
        level_map=picture,
        order_map=order_sums.picture(offset_db),
        engine_speed=_picture_of(track, sigma_part, frames.time_s, state.gear),
        telemetry_delay=delay,
        level_unit="dB re full scale" if sound.full_scale_db_spl is None else "dB SPL",
        full_scale_db=offset_db,
        levels_only=False,
        duration_s=copy.duration_s,
        warnings=warnings,
        withheld=withheld,
        trouble=by_time(drive.trouble),
        marks_s=tuple(sorted(drive.marks_s)),
        overall_passes=overall_passes(frame_levels, track, frames.time_s, passes, state),
        gear_ratios=gear_ratios(state.gear, frames.rpm, state.road_speed_m_s),
        load_column=state.load_column,
        is_flattened=bool(sound.response),
    )


def _told_speed(drive: Drive) -> SpeedTrack | Engine:
    """Engine speed as it was logged, or else the engine whose sound has to tell it."""
    if has_engine_speed(drive.telemetry):
        return track_from_rows(drive.telemetry)
    if drive.engine is None:
        raise DriveError(
            "this drive has no engine speed; say the number of cylinders with --cylinders, then it "
            "is worked out from the sound, or join the sound to a log of rpm with pipenote import "
            "--audio FILE --telemetry FILE"
        )
    return drive.engine


def _heard_speed(copy: WorkingCopy, engine: Engine, report: Callable[[float], None]) -> SpeedTrack:
    track = speed_from_sound(copy, engine, report)
    if np.count_nonzero(np.isfinite(track.rpm)) * track.step_s < _LEAST_HEARD_S:
        raise DriveError(
            "this drive has no engine speed, and the sound does not tell it: the engine's orders "
            "do not stand out of the other noise. Put the microphone nearer to the exhaust, check "
            "--cylinders, or record again with --rpm obd:auto or pulse:2"
        )
    return track


def _silent(part: float) -> None:
    del part


def _seen_bands(
    points: list[OrderPoints],
    fitted: Sequence[FittedOrder],
    bins: BinnedOrders,
    level_offset_db: float,
) -> list[DroneBand]:
    """Every band, with what each gear and each load shows of it."""
    bands = []
    for each, order in zip(points, fitted, strict=True):
        if order.fit is None:
            continue
        for band in order.bands:
            views = gear_views(band, each, bins, order.fit)
            loads = load_views(band, each, bins, order.fit, level_offset_db)
            bands.append(replace(band, locked_to=locked_to(views), by_gear=views, by_load=loads))
    return bands


def _with_coasting(band: DroneBand, view: GearView | None) -> DroneBand:
    if view is None:
        return band
    views = (*band.by_gear, view)
    return replace(band, by_gear=views, locked_to=locked_to(views))


def _picture_of(
    track: SpeedTrack, sigma_part: FloatArray, frame_s: FloatArray, gear: FloatArray
) -> EngineSpeed:
    step = max(1, track.rpm.size // _PICTURE_POINTS)
    time_s = track.time_s[::step]
    nearest = np.clip(np.searchsorted(frame_s, time_s), 0, frame_s.size - 1)
    known = np.abs(frame_s[nearest] - time_s) < 0.5
    return EngineSpeed(
        time_s=time_s,
        rpm=track.rpm[::step],
        sigma_part=sigma_part[::step],
        gear_index=np.where(known, gear[nearest], np.nan),
    )
