"""Engine speed from the sound alone, for cars that tell none.

The sound is followed in two ways: by the firing order, as engines with like cylinders have it
(``firing_path``), and by every half order together, as others have it (``comb_path``). What
stands along each path, and where nothing does, tells which is right, and whether the engine runs at
the path's own speed or at a half, two thirds ... of it (``which_reading``). Where two speeds come
out nearly alike, none is given: a person can settle it. A hum is left out beforehand
(``standing_tones``), and a path that keeps to a few pitches, as along a song, is none of an engine.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.basics.arrays import FloatArray
from analysis.basics.progress import Progress, stage
from analysis.drive import NO_HINTS, Engine, SpeedHints
from analysis.errors import DriveError
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.tone_removal import take_out
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.comb_path import EVERY_HALF_ORDER, comb_path, learnt_comb
from analysis.find.speed.firing_path import firing_path
from analysis.find.speed.line_profile import heard_lines
from analysis.find.speed.plausible_speed import log_plausibility, rpm_near
from analysis.find.speed.speed_path import LONGEST_STEP_S, HeardPath, joined_paths
from analysis.find.speed.standing_tones import standing_tones
from analysis.find.speed.which_reading import Reading, all_orders, readings, rival_of

_STRETCH_S = 600.0  # judgement: memory against calls; what is worked through at a time
_GRID_STEP_S = 0.02  # judgement: finer than any change of speed
_LEAST_SOUND_S = 3.0  # judgement: no window of a sweep fits into less
# judgement: shorter tells no drone, so it is refused; half of the drive is enough of a short one
_LEAST_HEARD_S, _LEAST_SHARE = 10.0, 0.3
# judgement: of the lines, as a logarithm of odds, times the share of the drive in which they are
# heard. Noise alone gives none; right speeds of road drives had 6 and more, of even engines 5
LEAST_EVIDENCE = 4.0
_MISFIT = 0.2  # judgement: a needle is read better than that
# judgement: paths along a hum or the notes of a song held to three speeds for 0.44 to 1.0 of the
# time, engines on the road, at a cruise as well, for 0.39 at most
_FEW_SPEEDS = 0.42
_CLOSE = 8.0  # judgement: of the first paths; a rival this near is looked at as closely
# judgement: odds of 50 to 1 against the next best speed. Of 110 road drives without music or hum
# the right speed was the best of all on each, ahead by 1.7 to 40
_CERTAIN = 4.0

_NOT_TOLD = (
    "this drive has no engine speed, and the sound does not tell it: the engine's orders do not "
    "stand out of the other noise. Put the microphone nearer to the exhaust, check --cylinders, or "
    "record again with --rpm obd:auto or pulse:2"
)


_ONE_SPEED_ONLY = (
    "this drive has no engine speed, and what the sound holds keeps to a few steady pitches, as a "
    "hum or music does: an engine that never changes its speed cannot be told from them. Drive "
    "slowly through a range of engine speeds with radio and fan off, or record again with --rpm "
    "obd:auto or pulse:2"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlogged:
    """What is known of a drive without engine speed.

    Attributes
    ----------
    engine : Engine
        Its firing order says which lines to expect.
    telemetry : pandas.DataFrame
        Of the drive; only a road speed is used.
    hints : SpeedHints
    """

    engine: Engine
    telemetry: pd.DataFrame
    hints: SpeedHints = NO_HINTS


def speed_from_sound(copy: WorkingCopy, told: Unlogged, progress: Progress) -> SpeedTrack:
    """Work out the engine speed over the whole sound; NaN where it cannot be told.

    Parameters
    ----------
    copy : WorkingCopy
    told : Unlogged
    progress : callable
        Called with the part done, 0 to 1.

    Raises
    ------
    DriveError
        The sound does not tell the engine speed, leaves two equally likely, or has none that fits
        the hints.
    """
    _check_moments(told.hints, copy.duration_s)
    if copy.duration_s < _LEAST_SOUND_S:
        raise DriveError(_NOT_TOLD)
    # a hum outvotes a soft engine; who hears the drone along this speed finds it again, and tells
    take_out(copy, standing_tones(copy))
    try:
        return _decided(copy, told, _found(copy, told, progress))
    finally:
        # the drone is heard in all that was recorded
        copy.put_back()


def _found(copy: WorkingCopy, told: Unlogged, progress: Progress) -> list[Reading]:
    """Give all that the sound may mean."""
    paths = _moving(_first_paths(copy, told.engine, stage(progress, 0.0, 0.5)))
    first = _readings(copy, told, paths)
    if not first:
        return []
    # whoever may be right is followed by its own lines, and these are judged again
    best = max(first, key=lambda each: each.log_odds)
    rival = rival_of(best, first)
    is_close = rival is not None and best.log_odds - rival.log_odds < _CLOSE
    contenders = [best, rival] if rival is not None and is_close else [best]
    followed = [_followed(copy, each, stage(progress, 0.5, 0.95)) for each in contenders]
    paths = [best.path, *(path for path in followed if path.is_sure.any() and _moves(path))]
    found = _readings(copy, told, paths)
    progress(1.0)
    return found


def _moving(paths: list[HeardPath]) -> list[HeardPath]:
    """Those that an engine on the road may have driven.

    Raises
    ------
    DriveError
        There are paths, but none that moves.
    """
    moving = [path for path in paths if _moves(path)]
    if paths and not moving:
        raise DriveError(_ONE_SPEED_ONLY)
    return moving


def _moves(path: HeardPath) -> bool:
    return path.share_at_few_speeds < _FEW_SPEEDS


def _decided(copy: WorkingCopy, told: Unlogged, found: list[Reading]) -> SpeedTrack:
    best = max(found, key=lambda each: each.log_odds, default=None)
    if best is None or best.evidence * best.path.is_sure.mean() < LEAST_EVIDENCE:
        raise DriveError(_NOT_TOLD)
    track = _on_grid(best.path, copy.duration_s)
    if track.known_s < min(_LEAST_HEARD_S, _LEAST_SHARE * copy.duration_s):
        raise DriveError(_NOT_TOLD)
    _check_fits(best.path, told.hints)
    rival = rival_of(best, found)
    # lines that no engine explains are another sound's, and any of the rest may be as well
    if rival is not None and best.log_odds - rival.log_odds < _CERTAIN + best.strays:
        raise DriveError(_cannot_tell(best.path, rival.path))
    return track


def _readings(copy: WorkingCopy, told: Unlogged, paths: list[HeardPath]) -> list[Reading]:
    found: list[Reading] = []
    most_sure = max((int(np.count_nonzero(path.is_sure)) for path in paths), default=0)
    for path in paths:
        found += readings(
            path,
            heard_lines(copy, path, all_orders()),
            told.engine.firing_order,
            lambda scaled: log_plausibility(scaled, told.telemetry, told.hints),
            most_sure,
        )
    return found


def _check_moments(hints: SpeedHints, duration_s: float) -> None:
    for at_s, _ in hints.rpm_at:
        if not 0.0 <= at_s <= duration_s:
            raise DriveError(
                f"the rpm given for {at_s:g} s lies outside of the sound, which is "
                f"{duration_s:.0f} s long; give --rpm-at a moment within it"
            )


def _check_fits(path: HeardPath, hints: SpeedHints) -> None:
    for at_s, known_rpm in hints.rpm_at:
        heard_rpm = rpm_near(path, at_s)
        if heard_rpm is None:
            raise DriveError(
                f"the engine is not heard well enough at {at_s:g} s to use the rpm given for then; "
                f"give --rpm-at another moment, such as {_middle_moment(path):.0f} s"
            )
        if abs(np.log(heard_rpm / known_rpm)) > _MISFIT:
            raise DriveError(
                f"no engine speed that the sound allows is near the {known_rpm:,.0f} rpm given for "
                f"{at_s:g} s; the nearest likely one is {heard_rpm:,.0f} rpm: check --rpm-at and "
                "--cylinders"
            )


def _first_paths(copy: WorkingCopy, engine: Engine, progress: Progress) -> list[HeardPath]:
    by_firing, by_half_orders = [], []
    for start_s, end_s in _stretches(copy.duration_s):
        by_firing.append(firing_path(copy, start_s, end_s, engine.firing_order))
        by_half_orders.append(comb_path(copy, start_s, end_s, EVERY_HALF_ORDER))
        progress(end_s / copy.duration_s)
    ways = (by_firing, by_half_orders)
    joined = [joined_paths([part for part in parts if part is not None]) for parts in ways]
    return [path for path in joined if path.is_sure.any()]


def _followed(copy: WorkingCopy, reading: Reading, progress: Progress) -> HeardPath:
    comb = learnt_comb(reading.profile, reading.ratio)
    parts = []
    for start_s, end_s in _stretches(copy.duration_s):
        parts.append(comb_path(copy, start_s, end_s, comb))
        progress(end_s / copy.duration_s)
    return joined_paths([part for part in parts if part is not None])


def _stretches(duration_s: float) -> list[tuple[float, float]]:
    starts_s = np.arange(0.0, duration_s, _STRETCH_S)
    return [(float(start_s), min(float(start_s) + _STRETCH_S, duration_s)) for start_s in starts_s]


def _cannot_tell(best: HeardPath, rival: HeardPath) -> str:
    """Say between which speeds, at a moment at which both are likely well known."""
    at_s = _middle_moment(best)
    rpm = sorted(float(np.interp(at_s, path.time_s, path.rpm)) for path in (best, rival))
    return (
        "this drive has no engine speed, and the sound leaves two: at "
        f"{int(at_s // 60)}:{int(at_s % 60):02d} the engine turns at about {rpm[0]:,.0f} or "
        f"{rpm[1]:,.0f} rpm. Say which with --rpm-at {at_s:.0f}=RPM, or tell its idle with "
        "--idle-rpm RPM; check --cylinders"
    )


def _middle_moment(path: HeardPath) -> float:
    """When the engine runs at its middle speed and is heard well."""
    sure = np.flatnonzero(path.is_sure)
    # a moment at idle or at full speed would be hard to read off a needle
    return float(path.time_s[sure[np.argsort(path.rpm[sure])[sure.size // 2]]])


def _on_grid(path: HeardPath, duration_s: float) -> SpeedTrack:
    """Straight lines between neighbouring frames that know the speed and nearly agree."""
    grid_s = np.arange(0.0, duration_s, _GRID_STEP_S)
    values = np.full(grid_s.size, np.nan)
    time_s, rpm = path.time_s, np.where(path.is_sure, path.rpm, np.nan)
    if time_s.size >= 2:
        values = _between(time_s, rpm, grid_s)
    return SpeedTrack(start_s=0.0, step_s=_GRID_STEP_S, rpm=values)


def _between(time_s: FloatArray, rpm: FloatArray, grid_s: FloatArray) -> FloatArray:
    right = np.clip(np.searchsorted(time_s, grid_s), 1, time_s.size - 1)
    left = right - 1
    step_s = time_s[right] - time_s[left]
    with np.errstate(invalid="ignore"):
        part = (grid_s - time_s[left]) / step_s
        good = (part >= 0.0) & (part <= 1.0) & (step_s < LONGEST_STEP_S)
        # a line across a jump would be an engine speed that never was
        good &= np.abs(np.log(rpm[right] / rpm[left])) < 0.1
        return np.where(good, (1.0 - part) * rpm[left] + part * rpm[right], np.nan)
