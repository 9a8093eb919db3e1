"""Engine speed on the sound's clock: as it was logged, or as the sound tells it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.basics.progress import Progress, stage
from analysis.drive import Drive
from analysis.errors import DriveError
from analysis.find.sound.speed_track import (
    SpeedTrack,
    has_engine_speed,
    row_times,
    shifted,
    track_from_rows,
)
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.from_sound import Unlogged, speed_from_sound
from analysis.find.speed.order_phase import speed_by_phase
from analysis.find.speed.refinement import refined_speed
from analysis.find.speed.road_delay import road_delay
from analysis.find.speed.telemetry_delay import measure_delay
from analysis.findings import TelemetryDelay

_LEAST_LOGGED_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSpeed:
    """Engine speed on the sound's clock, and which telemetry row belongs to which moment.

    Attributes
    ----------
    track : SpeedTrack
    sigma_part : ndarray [shape=(n_times,)]
        Standard deviation of the track's speed, as a part of it; NaN where not measured.
    is_from_sound : bool
        Worked out from the sound, because it was not logged.
    delay : TelemetryDelay or None
        None when the sound does not show how late the rows are; they are then taken as on time.
    duration_s : float
        Length of the sound.
    """

    track: SpeedTrack
    sigma_part: FloatArray
    is_from_sound: bool
    delay: TelemetryDelay | None
    duration_s: float

    def row_times(self, sound_s: FloatArray) -> FloatArray:
        """Stamp of the telemetry row that belongs to each moment of the sound; any shape."""
        return row_times(sound_s, *_clock(self.delay), self.duration_s)


def told_speed(drive: Drive) -> SpeedTrack | Unlogged:
    """Engine speed as it was logged, or else what there is for the sound to tell it by.

    Raises
    ------
    DriveError
        Neither is known, or too few rows hold an engine speed.
    """
    if has_engine_speed(drive.telemetry):
        return track_from_rows(drive.telemetry)
    if drive.engine is None:
        raise DriveError(
            "this drive has no engine speed; say the number of cylinders with --cylinders, then it "
            "is worked out from the sound, or join the sound to a log of rpm with pipenote import "
            "--audio FILE --telemetry FILE"
        )
    return Unlogged(engine=drive.engine, telemetry=drive.telemetry, hints=drive.hints)


def known_speed(copy: WorkingCopy, told: SpeedTrack | Unlogged, progress: Progress) -> KnownSpeed:
    """Put what :func:`told_speed` gave on the sound's clock, and refine it by the sound.

    Raises
    ------
    DriveError
        Sound and telemetry do not overlap, or the sound does not tell the engine speed.
    """
    if isinstance(told, Unlogged):
        delay, track = None, speed_from_sound(copy, told, stage(progress, 0.0, 0.8))
    else:
        delay = measure_delay(copy, told)
        track = _on_sound_clock(told, delay, copy.duration_s)
    sigma_part = np.full(track.rpm.size, np.nan)
    # rows that could not be lined up lie too far from the truth for the orders to be followed
    if delay is not None or isinstance(told, Unlogged):
        track, sigma_part = speed_by_phase(copy, refined_speed(copy, track))
    if isinstance(told, Unlogged):
        delay = road_delay(told.telemetry, track, copy.duration_s)
    progress(1.0)
    return KnownSpeed(
        track=track,
        sigma_part=sigma_part,
        is_from_sound=isinstance(told, Unlogged),
        delay=delay,
        duration_s=copy.duration_s,
    )


def _on_sound_clock(
    told: SpeedTrack, delay: TelemetryDelay | None, duration_s: float
) -> SpeedTrack:
    track = shifted(told, *_clock(delay), duration_s)
    if track.known_s < _LEAST_LOGGED_S:
        raise DriveError(
            "sound and telemetry do not overlap; check that both files are of the same drive"
        )
    return track


def _clock(delay: TelemetryDelay | None) -> tuple[float, float]:
    return (delay.delay_s, delay.drift_ppm) if delay is not None else (0.0, 0.0)
