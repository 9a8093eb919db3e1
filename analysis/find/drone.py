"""Find the drone: from a drive to its bands, in one line of stages.

working copy of the sound -> engine speed on its clock -> levels along that speed
      -> curves over engine speed -> one fit per order -> bands -> doubts -> causes
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from threadpoolctl import threadpool_limits

from analysis.basics.progress import Progress, stage
from analysis.drive import Drive, Sound
from analysis.find.bands.coasting import cruise_of
from analysis.find.bands.drone_bands import FittedOrder, fit_drones
from analysis.find.bands.fitted_curve import order_curve
from analysis.find.bands.heard_bands import heard_bands
from analysis.find.bands.levelled_bands import still_sure
from analysis.find.bands.no_notes import no_notes
from analysis.find.causes import causes
from analysis.find.curves.driven import Driven, driven_at
from analysis.find.curves.order_curves import binned
from analysis.find.curves.overall_passes import overall_passes
from analysis.find.doubts.evidence import Evidence
from analysis.find.doubts.raised import doubts
from analysis.find.doubts.withheld import withheld_because
from analysis.find.drive_check import check_channel, check_drive
from analysis.find.firing_layout import firing_layout
from analysis.find.from_levels import find_in_levels
from analysis.find.sound.automatic_gain import AutomaticGain, recorder_gain, undone
from analysis.find.sound.hearing import hear
from analysis.find.sound.other_tones import other_tones
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.tail_sound import NO_TAIL, AtTail, tail_sound
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import Unlogged
from analysis.find.speed.known_speed import KnownSpeed, known_speed, told_speed
from analysis.find.speed.log_factor import log_ratio, ratio_on_time
from analysis.findings import Climb, DroneBand, EngineSpeed, Findings, OrderCurve
from analysis.words.quantities import FULL_SCALE, SPL
from analysis.words.trouble import by_time

_PICTURE_POINTS = 2000  # judgement: points of a picture, more than it has pixels across
_NEAR_S = 0.5  # a moment this far from any whose gear was looked up has none


def find_drone(drive: Drive, *, progress: Progress | None = None) -> Findings:
    """Drone bands of a drive, worst first, with the curves, causes and doubts behind them.

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
    # its products and solves are small: threads would only get in each other's way
    with threadpool_limits(limits=1, user_api="blas"):
        found = _find(drive, progress or (lambda _: None))
    return replace(found, causes=causes(found), firing_layout=firing_layout(found))


def _find(drive: Drive, progress: Progress) -> Findings:
    if drive.sound is None:
        return find_in_levels(drive)
    told = told_speed(drive)  # first: it costs nothing, and may be all that is wrong
    with WorkingCopy(drive.sound, stage(progress, 0.0, 0.35)) as copy:
        check_channel(drive.sound, copy.facts.peak)
        return _find_in_sound(drive, drive.sound, copy, told, stage(progress, 0.35, 1.0))


def _find_in_sound(
    drive: Drive,
    sound: Sound,
    copy: WorkingCopy,
    told: SpeedTrack | Unlogged,
    progress: Progress,
) -> Findings:
    """Go through the stages, each of which takes what those before it gave."""
    speed = known_speed(copy, told, stage(progress, 0.0, 0.55))
    heard = hear(copy, sound, speed.track, stage(progress, 0.55, 0.95))
    frames, full_scale_db = heard.frames, heard.full_scale_db
    driven = driven_at(frames.time_s, frames.rpm, drive.telemetry, speed.row_times(frames.time_s))
    tones = other_tones(frames, heard.wide)
    gain = recorder_gain(
        frames,
        heard.wide,
        driven.pass_index,
        is_limited=heard.facts.is_limited,
        is_even=tones.is_even,
    )
    if gain.verdict is not AutomaticGain.NO:
        frames = undone(frames, gain)
    fitted = fit_drones(binned(frames, driven), full_scale_db)
    if tones.are_heard:
        fitted = no_notes(fitted, frames, are_many=tones.are_many)
    cruise = cruise_of(drive, copy, speed)
    bands = heard_bands(fitted, heard.levels.overall, cruise, full_scale_db)
    if gain.verdict is not AutomaticGain.NO:
        bands = still_sure(bands)
    at_tail = _at_tail(drive, copy, speed, driven, bands, is_even=tones.is_even)
    evidence = Evidence(
        telemetry=drive.telemetry,
        speed=speed,
        heard=heard,
        gain=gain.verdict,
        tones=tones,
        driven=driven,
        bands=bands,
        at_tail=at_tail,
        climbs=_climbs(fitted),
        log_ratio=_log_ratio(drive, copy, told, speed),
        engine=drive.engine,
    )
    withheld = withheld_because(evidence, drive.trouble)
    if withheld is not None:
        fitted = tuple(FittedOrder(points=each.points) for each in fitted)
        # nor does a warning speak of them
        evidence = replace(evidence, bands=(), climbs=(), at_tail=NO_TAIL)
    progress(1.0)
    return _findings(drive, sound, evidence, tuple(map(order_curve, fitted)), withheld)


def _at_tail(
    drive: Drive,
    copy: WorkingCopy,
    speed: KnownSpeed,
    driven: Driven,
    bands: Sequence[DroneBand],
    *,
    is_even: bool,
) -> AtTail:
    if drive.tail is None:
        return NO_TAIL
    orders = sorted({band.engine_order for band in bands})
    return tail_sound(copy, drive.tail, speed.track, orders, driven.pass_index, is_even=is_even)


def _climbs(fitted: Sequence[FittedOrder]) -> tuple[Climb, ...]:
    every = (climb for order in fitted for climb in order.climbs)
    return tuple(sorted(every, key=lambda climb: -climb.level_db))


def _log_ratio(
    drive: Drive, copy: WorkingCopy, told: SpeedTrack | Unlogged, speed: KnownSpeed
) -> float | None:
    """Ask only where a log could be lined up: elsewhere its orders are nowhere."""
    if drive.engine is None or isinstance(told, Unlogged) or speed.delay is None:
        return None
    return log_ratio(copy, speed.track, drive.engine, drive.telemetry) or ratio_on_time(
        copy, told, speed.delay.delay_s
    )


def _findings(
    drive: Drive,
    sound: Sound,
    evidence: Evidence,
    curves: tuple[OrderCurve, ...],
    withheld: str | None,
) -> Findings:
    speed, heard, driven = evidence.speed, evidence.heard, evidence.driven
    return Findings(
        drive_name=drive.name,
        engine=drive.engine,
        bands=evidence.bands,
        curves=curves,
        overall=heard.levels.overall,
        level_map=heard.levels.picture,
        order_map=heard.order_map,
        engine_speed=_picture_of(speed, driven),
        telemetry_delay=speed.delay,
        level_unit=FULL_SCALE if sound.full_scale_db_spl is None else SPL,
        full_scale_db=heard.full_scale_db,
        levels_only=False,
        duration_s=speed.duration_s,
        warnings=doubts(evidence),
        withheld=withheld,
        trouble=by_time(drive.trouble),
        marks_s=tuple(sorted(drive.marks_s)),
        overall_passes=overall_passes(heard.levels.frames, speed.track, driven),
        gear_ratios=driven.gear_ratios,
        load_column=driven.load_column,
        tail=evidence.at_tail.orders,
        is_flattened=heard.is_flattened,
        level_was_held=evidence.gain is not AutomaticGain.NO,
    )


def _picture_of(speed: KnownSpeed, driven: Driven) -> EngineSpeed:
    thin = slice(None, None, max(1, speed.track.rpm.size // _PICTURE_POINTS))
    time_s = speed.track.time_s[thin]
    nearest = np.clip(np.searchsorted(driven.time_s, time_s), 0, driven.time_s.size - 1)
    is_known = np.abs(driven.time_s[nearest] - time_s) < _NEAR_S
    return EngineSpeed(
        time_s=time_s,
        rpm=speed.track.rpm[thin],
        sigma_part=speed.sigma_part[thin],
        gear_index=np.where(is_known, driven.gear[nearest], np.nan),
    )
