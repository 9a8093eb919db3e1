"""When a drive began: as a person says, as the log or the sound tells, or as its file does."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from logger.errors import TelemetryError
from logger.importing.request import ImportedTelemetry, ImportRequest
from logger.importing.sound_parts import DriveSound

_OLDEST = datetime(1990, 1, 1, tzinfo=UTC)  # judgement: a clock that was never set says less
_AHEAD = timedelta(days=1)  # judgement: clocks are off by hours; a file from later is not to trust


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveStart:
    """When a drive began, and who says so.

    ``told_by`` as in :class:`logger.session.SessionMetadata`.
    """

    moment: datetime | None
    told_by: str
    notes: tuple[str, ...] = ()


def find_start(
    request: ImportRequest, telemetry: ImportedTelemetry | None, sound: DriveSound | None
) -> DriveStart:
    """Take the best that is told.

    Raises
    ------
    TelemetryError
        The log tells a date that may be two; the message names the option that decides.
    """
    if request.started is not None:
        return DriveStart(moment=request.started, told_by="person")
    if telemetry is not None and telemetry.start_question:
        raise TelemetryError(
            f"{', '.join(map(str, request.telemetry))}: {telemetry.start_question}"
        )
    if telemetry is not None and telemetry.start is not None:
        return DriveStart(moment=telemetry.start, told_by="log")
    media = sound.first.media if sound is not None else None
    if media is not None and media.origin.start_time_utc is not None:
        return DriveStart(moment=media.origin.start_time_utc, told_by="sound")
    return _of_file(request, telemetry, sound)


def _of_file(
    request: ImportRequest, telemetry: ImportedTelemetry | None, sound: DriveSound | None
) -> DriveStart:
    """Count back from when the file was last written, which is when its recording ended."""
    path = next(iter((*request.audio[-1:], *request.telemetry)), None)
    length_s = 0.0
    if sound is not None:
        length_s = sound.facts.duration_s
    elif telemetry is not None:
        times_s = telemetry.frame["time_s"]
        length_s = float(times_s.iloc[-1] - times_s.iloc[0])
    unknown = DriveStart(moment=None, told_by="")
    if path is None:
        return unknown
    try:
        written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        moment = written - timedelta(seconds=length_s)
    except (OSError, OverflowError, ValueError):
        return unknown
    if not _OLDEST < moment < datetime.now(UTC) + _AHEAD:
        return unknown
    note = (
        f"Nothing says when the drive was; {path.name} was last written on "
        f"{written.astimezone():%Y-%m-%d at %H:%M}, and that is taken for its end. If the file was "
        "copied since, give --started."
    )
    return DriveStart(moment=moment, told_by="file", notes=(note,))
