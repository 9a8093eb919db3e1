"""What ``session.json`` says of a drive, as a type, as bytes and back."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from analysis.drive import MOST_CYLINDERS, Trouble
from logger.errors import SessionError
from logger.folder.gaps import LONGEST_GAP_S, MOST_FRAMES, MOST_GAPS, SoundGap
from logger.folder.harmless import harmless
from logger.folder.json_fields import JsonFields, any_text, mapping, moment, number, pair, whole
from logger.folder.names import METADATA_FILE
from logger.folder.near_names import did_you_mean
from logger.folder.quantities import FULL_SCALE_DB_SPL, LARGEST_RESPONSE_DB, LATEST_S
from logger.folder.text_decoding import read_whole

FORMAT_VERSION = 1
# judgement: no sound interface has more; refused as a slip.
MOST_CHANNELS = 1000
_MOST_BITS_A_SECOND = 1 << 40  # judgement: more than any sound has; refused as a slip
# judgement: nobody presses a key so often; a key that something lies on does, and the page of a
# drive takes minutes with 10,000.
MOST_MARKS = 1_000
_LARGEST_BYTES = 20_000_000  # judgement: a night of trouble each second; more is no file of ours
# Fields that stand together in the file: the group, and in it the name of each.
_GROUPS = {
    "calibration": {"full_scale_db_spl": "full_scale_db_spl", "response": "response"},
    "sound_clock": {
        "fast_ppm": "sound_fast_ppm",
        "fast_within_ppm": "sound_fast_within_ppm",
        "arrival_spread_s": "arrival_spread_s",
    },
}
_AGAIN = "import or record the drive again"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundOrigin:
    """The file that the sound was decoded from.

    ``codec`` and ``container`` as decoders name them, such as ``aac``; ``start_time_utc`` is when
    the file says that it was made.
    """

    name: str
    codec: str
    container: str
    bit_rate_bps: int | None = None
    start_time_utc: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionMetadata:
    """What ``session.json`` says.

    Attributes
    ----------
    start_time_utc : datetime or None
        With a time zone; None when nobody knows.
    start_time_from : str
        Who says so: ``recorder``, ``person``, ``log``, ``sound`` or ``file`` (when the file was
        last written); empty when nobody does, and in older sessions.
    devices : mapping of str to str
        What recorded what: ``{"sound": "cabin.wav", "telemetry": "obd:/dev/ttyUSB0"}``.
    full_scale_db_spl : float or None
        Sound pressure level of a full-scale sine, when the chain was calibrated.
    car : mapping or None
        The car file as plain data.
    notes : tuple of str
        Assumptions made while importing, one sentence each.
    response : tuple of (float, float)
        Frequency in Hz, rising, and dB the microphone shows too much; empty when unknown.
    sound_gaps : tuple of SoundGap
        Where sound was lost while recording.
    sound_fast_ppm : float or None
        How fast the sound card's clock runs against the computer's; already taken out of the
        telemetry's times. None where it may as well be none.
    sound_fast_within_ppm : float or None
        Half of its interval for 95 %.
    arrival_spread_s : float or None
        Standard deviation of the moments at which sound came, about that clock.
    marks_s : tuple of float
        Moments that somebody marked, on the session's clock.
    pickup_channels : tuple of int
        Channels that hold an ignition pickup and no sound of the cabin, counted from 1.
    tail_channel : int or None
        Channel of a microphone near the tailpipe, counted from 1; no sound of the cabin either.
    sound_origin : SoundOrigin or None
        None where the sound came as plain samples.
    """

    name: str
    start_time_utc: datetime | None = None
    start_time_from: str = ""
    devices: Mapping[str, str] = field(default_factory=dict)
    full_scale_db_spl: float | None = None
    car: Mapping[str, object] | None = None
    cylinders: int | None = None
    stroke_cycle: int = 4
    trouble: tuple[Trouble, ...] = ()
    notes: tuple[str, ...] = ()
    software_version: str = ""
    response: tuple[tuple[float, float], ...] = ()
    sound_gaps: tuple[SoundGap, ...] = ()
    sound_fast_ppm: float | None = None
    sound_fast_within_ppm: float | None = None
    arrival_spread_s: float | None = None
    marks_s: tuple[float, ...] = ()
    pickup_channels: tuple[int, ...] = ()
    tail_channel: int | None = None
    sound_origin: SoundOrigin | None = None


def encode_metadata(metadata: SessionMetadata, *, state: str = "complete") -> bytes:
    """Give the bytes of ``session.json``; a recorder says ``recording`` until it is done.

    Raises
    ------
    SessionError
        The car holds something that JSON cannot.
    """
    told = {"format_version": FORMAT_VERSION, "state": state, **asdict(metadata)}
    told["start_time_utc"] = _encode_time(metadata.start_time_utc)
    if metadata.sound_origin is not None:
        made_utc = _encode_time(metadata.sound_origin.start_time_utc)
        told["sound_origin"] = {**asdict(metadata.sound_origin), "start_time_utc": made_utc}
    for group, keys in _GROUPS.items():
        told[group] = {inside: told.pop(key) for inside, key in keys.items()}
    try:
        document = json.dumps(told, indent=2, ensure_ascii=False, allow_nan=False)
        return (document + "\n").encode("utf-8", "replace")
    except (TypeError, ValueError) as error:
        raise SessionError(f"the session cannot be written as JSON: {error}") from error


def read_metadata(path: Path) -> tuple[SessionMetadata, bool]:
    """Read the ``session.json`` of a folder; also tells whether the session was finished.

    Raises
    ------
    SessionError
        There is none, it is damaged, or it comes from a newer version.
    """
    fields = _read_json(path)
    metadata = _decode_metadata(fields, path / METADATA_FILE)
    return metadata, fields.text("state", "complete") == "complete"


def _read_json(path: Path) -> JsonFields:
    file = path / METADATA_FILE
    with contextlib.suppress(PermissionError):  # told below, where it is read
        if not file.exists():
            raise _no_session(path)
    data = read_whole(
        file, _LARGEST_BYTES, SessionError, f"is too large to describe a session; {_AGAIN}"
    )
    fields = JsonFields(data, str(file), SessionError, _AGAIN)
    version = fields.one("format_version", whole(1, 1_000_000))
    if version is None:
        raise SessionError(f"{file} does not say its format_version, so it is not a session")
    if version > FORMAT_VERSION:
        raise SessionError(
            f"{path} has session format {version}, newer than the {FORMAT_VERSION} "
            "that this pipenote reads; install a newer pipenote"
        )
    return fields


def _no_session(path: Path) -> SessionError:
    if path.exists():
        return SessionError(
            f"{path} is not a session folder: it has no {METADATA_FILE}; "
            "make one with pipenote record or pipenote import"
        )
    meant = did_you_mean(path, is_like=lambda each: (each / METADATA_FILE).is_file())
    meant = meant or "pipenote record and pipenote import make one"
    return SessionError(f"there is no session folder {path}; {meant}")


def _decode_metadata(fields: JsonFields, where: Path) -> SessionMetadata:
    calibration, devices = fields.inner("calibration"), fields.inner("devices")
    clock = fields.inner("sound_clock")
    return SessionMetadata(
        name=fields.text("name", harmless(where.parent.name)),
        start_time_utc=fields.one("start_time_utc", moment),
        start_time_from=fields.text("start_time_from"),
        devices={harmless(name): devices.text(name) for name in devices},
        full_scale_db_spl=calibration.one("full_scale_db_spl", number(*FULL_SCALE_DB_SPL)),
        car=fields.one("car", mapping),
        cylinders=fields.one("cylinders", whole(1, MOST_CYLINDERS)),
        stroke_cycle=2 if fields.one("stroke_cycle", whole(2, 4)) == 2 else 4,
        trouble=tuple(map(_decode_trouble, fields.inner_each("trouble"))),
        notes=fields.many("notes", any_text),
        software_version=fields.text("software_version"),
        response=calibration.many("response", _response_point),
        sound_gaps=_decode_gaps(fields, where),
        sound_fast_ppm=clock.one("fast_ppm", number()),
        sound_fast_within_ppm=clock.one("fast_within_ppm", number()),
        arrival_spread_s=clock.one("arrival_spread_s", number()),
        marks_s=fields.many("marks_s", number(-LATEST_S, LATEST_S), most=MOST_MARKS),
        pickup_channels=fields.many("pickup_channels", whole(1, MOST_CHANNELS)),
        tail_channel=fields.one("tail_channel", whole(1, MOST_CHANNELS)),
        sound_origin=_decode_origin(fields.inner("sound_origin")),
    )


def _decode_trouble(fields: JsonFields) -> Trouble:
    return Trouble(
        code=fields.text("code"),
        message=fields.text("message"),
        start_s=fields.one("start_s", number(-LATEST_S, LATEST_S)),
        duration_s=fields.one("duration_s", number(-LATEST_S, LATEST_S)),
    )


def _response_point(value: object) -> tuple[float, float]:
    hz, db = pair(value)
    if abs(db) > LARGEST_RESPONSE_DB:
        raise ValueError(f"Hz and dB, at most {LARGEST_RESPONSE_DB:g} dB off")
    return hz, db


def _decode_gaps(fields: JsonFields, where: Path) -> tuple[SoundGap, ...]:
    gaps = tuple(map(_decode_gap, fields.inner_each("sound_gaps", most=MOST_GAPS)))
    if sum(gap.duration_s for gap in gaps) > LONGEST_GAP_S:
        raise SessionError(
            f'{where} is damaged: "sound_gaps" are more than a day of lost sound; {_AGAIN}'
        )
    return gaps


def _decode_gap(fields: JsonFields) -> SoundGap:
    return SoundGap(
        after_frame=fields.one("after_frame", whole(0, MOST_FRAMES)) or 0,
        duration_s=fields.one("duration_s", number(0.0, LONGEST_GAP_S)) or 0.0,
    )


def _encode_time(time: datetime | None) -> str | None:
    return None if time is None else time.astimezone(UTC).isoformat()


def _decode_origin(fields: JsonFields) -> SoundOrigin | None:
    if not any(fields):
        return None
    return SoundOrigin(
        name=fields.text("name"),
        codec=fields.text("codec"),
        container=fields.text("container"),
        bit_rate_bps=fields.one("bit_rate_bps", whole(0, _MOST_BITS_A_SECOND)),
        start_time_utc=fields.one("start_time_utc", moment),
    )
