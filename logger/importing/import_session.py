"""Import: files recorded elsewhere in, a session folder and an account of it out."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from logger.errors import SessionError, TelemetryError
from logger.folder.harmless import is_harmless
from logger.folder.leftovers import clear_leftovers, rest_of_the_old
from logger.folder.names import refuse_taken
from logger.folder.quantities import LEVEL_COLUMNS
from logger.importing.drive_start import find_start
from logger.importing.request import ImportedTelemetry, ImportRequest, ImportSummary
from logger.importing.request_check import refuse_request
from logger.importing.sound_parts import DriveSound, look_at_parts, write_parts
from logger.session import SessionMetadata, Trouble, write_session
from logger.software import own_version

# judgement: file systems end at 255 bytes, and the session adds its own endings
_LONGEST_NAME = 200
# Names begin so in the decoding library. The first two pass nothing below 80 and 50 Hz (3GPP
# TS 26.090 and 26.190, from memory); the others are made for a telephone's 300 to 3400 Hz.
_VOICE_CODECS = (
    *("amr", "libopencore_amr", "gsm", "speex", "libspeex", "g72", "ilbc"),
    *("qcelp", "evrc", "truespeech", "nellymoser", "ra_144", "ra_288"),
)
# judgement: of the sound's length. A log in tenths that is read as seconds lasts ten times too long
_LEAST_OF_SOUND, _MOST_OF_SOUND = 0.15, 6.0
_SHORTEST_DRIVE_S = 20.0  # judgement: a shorter log is of no drive; it only asks for the unit
_APART_S = 60.0  # judgement: two devices' clocks may differ by a minute and still mean one drive


def import_session(
    request: ImportRequest,
    out: Path,
    *,
    overwrite: bool = False,
    progress: Callable[[float], None] = lambda _: None,
) -> ImportSummary:
    """Make a session folder from files recorded elsewhere.

    Parameters
    ----------
    request : ImportRequest
    out : Path
        The session folder to make.
    overwrite : bool
        Replace a session that is there, once the new one is complete.
    progress : callable
        Called with the finished fraction, 0..1, while sound is copied.

    Raises
    ------
    LoggerError
        Anything that cannot be used or decided, with one line that says what to do. Nothing is
        left behind then, and the files stay as they are.
    """
    about = _described(request, out)
    refuse_taken(out, overwrite=overwrite)  # before a minute of reading
    telemetry, sound = _understand(request)
    metadata = _with_what_files_say(about, request, telemetry, sound)
    cleared = clear_leftovers(out.parent)
    write_session(
        out,
        metadata,
        telemetry=telemetry.frame if telemetry else None,
        write_audio=partial(_write_audio, sound, progress) if sound else None,
        overwrite=overwrite,
    )
    return ImportSummary(
        session=out,
        name=metadata.name,
        columns=telemetry.columns if telemetry else (),
        telemetry_rows=len(telemetry.frame.index) if telemetry else 0,
        sound=sound.facts if sound else None,
        notes=(
            *metadata.notes,
            *(each.message for each in metadata.trouble),
            *cleared,
            *rest_of_the_old(out),
        ),
    )


def _with_what_files_say(
    about: SessionMetadata,
    request: ImportRequest,
    telemetry: ImportedTelemetry | None,
    sound: DriveSound | None,
) -> SessionMetadata:
    """Add what the files say of the drive to what a person says."""
    start = find_start(request, telemetry, sound)
    return replace(
        about,
        start_time_utc=start.moment,
        start_time_from=start.told_by,
        trouble=_trouble(sound),
        notes=(
            *(telemetry.notes if telemetry else ()),
            *(sound.notes if sound else ()),
            *start.notes,
        ),
        sound_gaps=sound.gaps if sound else (),
        sound_origin=sound.first.media.origin if sound and sound.first.media else None,
    )


def _write_audio(sound: DriveSound, progress: Callable[[float], None], folder: Path) -> None:
    if sound.beside is None:
        write_parts(sound, folder, progress)
        return
    from logger.importing.second_recorder import write_beside

    write_beside(sound, sound.beside, folder, progress)


def _trouble(sound: DriveSound | None) -> tuple[Trouble, ...]:
    """Tell what is wrong with the sound, for the import's note and for every page after it."""
    if sound is None:
        return ()
    told = [
        Trouble(
            code="interrupted",
            message=f"The header of {part.path.name} does not fit its length, as when a recorder "
            "is cut off; all sound up to the end of the file was taken.",
        )
        for part in sound.parts
        if part.facts.sizes_are_wrong
    ]
    media = sound.first.media
    if media is not None and media.origin.codec.startswith(_VOICE_CODECS):
        message = (
            f"{media.origin.name} was kept by {media.origin.codec}, a codec made for speech. It "
            "turns low and steady sound down and makes other sound of its own, so no drone will be "
            "told from it. Set the recorder to another format and drive again."
        )
        told.append(Trouble(code="voice_codec", message=message))
    return tuple(told)


def _described(request: ImportRequest, out: Path) -> SessionMetadata:
    """Check what a person says of the drive, before any file is read."""
    name = _checked_name(request.name if request.name is not None else out.resolve().name)
    cylinders = _from_car("cylinders", request.cylinders, request.car)
    stroke_cycle = _from_car("stroke_cycle", request.stroke_cycle, request.car)
    refuse_request(request, out, cylinders, stroke_cycle)
    second = () if request.second_audio is None else (request.second_audio,)
    files = {"sound": (*request.audio, *second), "telemetry": request.telemetry}
    return SessionMetadata(
        name=name,
        devices={
            role: ", ".join(path.name for path in paths) for role, paths in files.items() if paths
        },
        full_scale_db_spl=request.full_scale_db_spl,
        response=request.response,
        car=request.car,
        cylinders=cylinders,
        stroke_cycle=stroke_cycle or 4,
        software_version=own_version(),
        tail_channel=request.tail_channel,
    )


def _understand(request: ImportRequest) -> tuple[ImportedTelemetry | None, DriveSound | None]:
    """Find out what the files hold; the sound stays in its file."""
    # the log first: it is read in a second, and asks what it must before minutes of decoding
    telemetry = _logged(request) if request.telemetry else None
    sound = _heard(request) if request.audio else None
    _refuse_tail(request.tail_channel, sound)
    _refuse_useless(request, telemetry, sound)
    return telemetry, sound


def _logged(request: ImportRequest) -> ImportedTelemetry:
    from logger.importing.joined_logs import Log, join_logs
    from logger.importing.plugins import read_telemetry_file

    logs = []
    offsets = request.time_offsets_s
    are_placed = len(offsets) == len(request.telemetry) > 1
    for at, path in enumerate(request.telemetry):
        offset_s = offsets[at] if are_placed else next(iter(offsets), request.options.time_offset_s)
        read = read_telemetry_file(
            path,
            replace(request.options, time_offset_s=offset_s),
            importer=request.importer,
        )
        logs.append(Log(path=path, telemetry=read))
    return join_logs(logs, are_placed=are_placed)


def _heard(request: ImportRequest) -> DriveSound:
    sound = look_at_parts(request.audio, request.channel)
    if len(sound.parts) > 1 or request.second_audio is not None:
        from logger.importing.second_recorder import lay_beside, refuse_same_time

        refuse_same_time(sound.parts)
        if request.second_audio is not None:
            sound = lay_beside(sound, request.second_audio)
    return sound


def _refuse_tail(channel: int | None, sound: DriveSound | None) -> None:
    """One microphone is none to compare with; the cabin needs its own."""
    if channel is None:
        return
    count = 0 if sound is None else sound.channel_count
    if count < 2:
        raise SessionError(
            "--tail-channel goes with sound of two channels, cabin and tail; add the other "
            "recorder's file with --second-audio, or leave --channel out"
        )
    if not 1 <= channel <= count:
        raise SessionError(f"--tail-channel must be one of 1 to {count}, got {channel}")


def _checked_name(name: str) -> str:
    """Take any text: it is never used as a path, and pages escape it when they show it."""
    if not name.strip() or len(name) > _LONGEST_NAME:
        raise SessionError(
            f"the session's name must have 1 to {_LONGEST_NAME} characters; give --name"
        )
    if not is_harmless(name):
        raise SessionError("the session's name holds a control character; give another --name")
    return name


def _from_car(key: str, asked: int | None, car: Mapping[str, object] | None) -> int | None:
    engine = car.get("engine") if car is not None else None
    in_car = engine.get(key) if isinstance(engine, Mapping) else None
    if not isinstance(in_car, int) or isinstance(in_car, bool):
        return asked
    if asked is not None and asked != in_car:
        option = key.replace("_", "-")
        raise SessionError(
            f"--{option} {asked} contradicts the car file, which says {in_car}; leave one out"
        )
    return in_car


def _named(paths: Sequence[Path]) -> str:
    return ", ".join(map(str, paths))


def _refuse_unsure_times(request: ImportRequest, telemetry: ImportedTelemetry) -> None:
    """Ask for the unit where only the steps tell it, and they may as well count tenths or rows."""
    assumed = telemetry.assumed_time_unit
    times_s = telemetry.frame["time_s"].to_numpy()
    lasts_s = float(times_s[-1] - times_s[0])
    counts = assumed == "s" and bool((times_s % 1.0 == 0.0).all())
    if assumed and (counts or lasts_s < _SHORTEST_DRIVE_S):
        raise _unsure(request, assumed, f"{lasts_s:.0f} s")


def _unsure(request: ImportRequest, assumed: str, lasts: str) -> TelemetryError:
    return TelemetryError(
        f"the times of {_named(request.telemetry)} name no unit; in {assumed} they last {lasts}: "
        f'give --time-unit, {assumed} if that is so, else such as ms, min or "0.1 s"'
    )


def _refuse_useless(
    request: ImportRequest, telemetry: ImportedTelemetry | None, sound: DriveSound | None
) -> None:
    if telemetry is None:
        return
    if sound is None:
        if not any(column in telemetry.frame.columns for column in LEVEL_COLUMNS):
            raise TelemetryError(
                f"{_named(request.telemetry)} holds no sound level, and there is no sound; "
                "give --audio, or --level-column for the column in dB"
            )
        _refuse_unsure_times(request, telemetry)
        return
    first_s, last_s = telemetry.frame["time_s"].iloc[[0, -1]]
    end_s = sound.facts.duration_s
    assumed, ratio = telemetry.assumed_time_unit, (last_s - first_s) / end_s
    if assumed and not _LEAST_OF_SOUND <= ratio <= _MOST_OF_SOUND:
        raise _unsure(request, assumed, f"{last_s - first_s:.0f} s and the sound {end_s:.0f} s")
    if first_s > end_s + _APART_S or last_s < -_APART_S:
        raise TelemetryError(
            f"telemetry ({first_s:.1f} to {last_s:.1f} s) and sound (0 to {end_s:.1f} s) do not "
            "overlap; check that both are of one drive, or give --time-unit or --time-offset-s"
        )
