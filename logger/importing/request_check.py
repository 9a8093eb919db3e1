"""What cannot be imported, refused before a file is read and before what reads it is loaded."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from pathlib import Path

from logger.errors import AudioError, SessionError, TelemetryError
from logger.folder.near_names import did_you_mean
from logger.folder.quantities import FULL_SCALE_DB_SPL
from logger.importing.file_kinds import is_log, is_sound
from logger.importing.request import ImportRequest
from logger.session import MOST_CYLINDERS


def refuse_request(
    request: ImportRequest, out: Path, cylinders: int | None, stroke_cycle: int | None
) -> None:
    """Refuse what does not go together, and files that are not there."""
    if not request.audio and not request.telemetry:
        raise SessionError("nothing to import; give --audio, --telemetry or both")
    if cylinders is not None and not 1 <= cylinders <= MOST_CYLINDERS:
        raise SessionError(f"--cylinders must be 1 to {MOST_CYLINDERS}, got {cylinders}")
    if stroke_cycle not in (None, 2, 4):
        raise SessionError(f"the stroke cycle must be 2 or 4, got {stroke_cycle}")
    _refuse_of_sound(request)
    _refuse_offsets(request)
    second = () if request.second_audio is None else (request.second_audio,)
    # with --overwrite what lies in there would be deleted, the drive's only copy perhaps
    for source in (*request.audio, *second, *request.telemetry):
        if source.resolve().is_relative_to(out.resolve()):
            raise SessionError(f"{source} lies inside {out}; choose another folder for the session")
    _refuse_missing((*request.audio, *second), AudioError)
    _refuse_missing(request.telemetry, TelemetryError)
    _refuse_swapped(request)


def _refuse_of_sound(request: ImportRequest) -> None:
    full_scale = request.full_scale_db_spl
    if full_scale is not None and not FULL_SCALE_DB_SPL[0] <= full_scale <= FULL_SCALE_DB_SPL[1]:
        raise SessionError(
            f"--full-scale-db-spl must be {FULL_SCALE_DB_SPL[0]:g} to {FULL_SCALE_DB_SPL[1]:g} dB, "
            f"got {full_scale:g}; it is the level that a full-scale sine stands for"
        )
    is_calibrated = full_scale is not None or request.response
    if not request.audio and is_calibrated:
        raise SessionError("a calibration or a response belongs to sound; give --audio too")
    if request.second_audio is None:
        return
    if not request.audio:
        raise SessionError("--second-audio goes beside another recorder's file; give --audio too")
    if is_calibrated:
        raise SessionError(
            "a calibration or a response is of one recorder, and --second-audio brings another; "
            "import the calibrated file alone"
        )


def _refuse_offsets(request: ImportRequest) -> None:
    offsets = request.time_offsets_s
    if not all(map(math.isfinite, (*offsets, request.options.time_offset_s))):
        raise TelemetryError("--time-offset-s must be a finite number of seconds")
    if len(offsets) > 1 and len(offsets) != len(request.telemetry):
        raise TelemetryError(
            f"--time-offset-s has {len(offsets)} numbers for {len(request.telemetry)} telemetry "
            "files; give one for all, or one for each"
        )


def _refuse_missing(files: Sequence[Path], refused: type[AudioError | TelemetryError]) -> None:
    for file in files:
        if not file.is_file():
            raise refused(f"there is no file {file}; {did_you_mean(file) or 'check the name'}")


def _refuse_swapped(request: ImportRequest) -> None:
    """Tell a log given as sound; other people's importers may read a log out of any file."""
    log = next(filter(is_log, request.audio), None)
    if log is None:
        return
    sound = next(filter(is_sound, request.telemetry), None)
    if sound is None:
        raise AudioError(f"{log} is a log and no sound; give it with --telemetry")
    raise AudioError(
        f"you have the two swapped: give --audio {sound} --telemetry {log}, or both without options"
    )
