"""``record``: cautions, devices, session folder, screen, and where it all went."""
# SPDX-License-Identifier: GPL-2.0-or-later

import contextlib
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, ExitStack, nullcontext
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from rich.console import Console

from logger.errors import DeviceError, SessionError
from logger.folder.names import refuse_existing
from logger.microphone.behind import is_stand_in, sound_behind
from logger.microphone.calibration import check_fit, read_calibration
from logger.microphone.device import Microphone
from logger.microphone.microphones import (
    MicrophoneFacts,
    choose_channels,
    choose_microphone,
    list_microphones,
)
from logger.microphone.portaudio import load_portaudio
from logger.microphone.response_file import read_response
from logger.recording.recorder import Controls, Recorded, record_drive
from logger.recording.sound_intake import pickup_channels
from logger.recording.status import Status
from logger.screen.before_the_drive import AT_TAIL, CAUTIONS
from logger.screen.live_screen import live_screen
from logger.screen.mark_key import MarkKey, mark_key
from logger.screen.plain_lines import PlainLines
from logger.screen.remote import Remote
from logger.screen.terminal import quiet_libraries
from logger.session import SessionMetadata
from logger.software import own_version
from logger.sources.choice import choose_sources
from logger.sources.contract import RpmSource

_Shown = TypeVar("_Shown")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingRequest:
    """What a person asked for.

    Attributes
    ----------
    rpm : tuple of str
        Words of sources, such as ``"obd:auto"``.
    channels : tuple of int or None
        Of the microphone, counted from 1; None takes the first two.
    tail_channel : int or None
        Which of those recorded is of a microphone near the tailpipe, counted from 1.
    seconds : float or None
        None records until it is stopped.
    remote : Path or None
        Folder through which another program watches and steers it.
    """

    out: Path
    car: Mapping[str, object] | None
    cylinders: int | None
    stroke_cycle: int
    microphone: str | None
    channels: tuple[int, ...] | None
    calibration: Path | None
    response: Path | None
    rpm: tuple[str, ...]
    seconds: float | None
    plain: bool
    remote: Path | None = None
    tail_channel: int | None = None


def record(request: RecordingRequest, console: Console, stopped: Callable[[], bool]) -> Recorded:
    """Record until the time is over or ``stopped`` says so.

    Raises
    ------
    DeviceError
        No microphone, or it was gone at the end, or the disk is full: what came before is saved.
    SourceError
        A word for a source that cannot be understood.
    SessionError
        The folder exists or cannot be made; a calibration or response that cannot be read.
    KeyboardInterrupt
        It was stopped before any sound came; nothing is left behind then.
    """
    # what was typed wrong is told before a device is touched, or a library of theirs is needed
    refuse_existing(request.out)
    sources = choose_sources(
        request.rpm, cylinders=request.cylinders, stroke_cycle=request.stroke_cycle
    )
    audio = load_portaudio()
    facts = choose_microphone(list_microphones(audio), request.microphone)
    channels = choose_channels(facts, request.channels)
    pickups = pickup_channels(sources, len(channels))
    _refuse_tail(request.tail_channel, len(channels), pickups)
    metadata = _metadata(request, facts, channels, pickups, sources)
    if stopped():  # while all that was loaded
        raise KeyboardInterrupt
    say = _quiet_when_gone(console.print)
    for caution in CAUTIONS if request.tail_channel is None else (*CAUTIONS, AT_TAIL):
        say(caution)
    remote = None if request.remote is None else Remote(request.remote)
    with ExitStack() as stack:
        stack.enter_context(quiet_libraries())
        keys = stack.enter_context(mark_key()) if not request.plain else MarkKey(None)
        hint = "Ctrl-C saves and stops" + (", m marks a moment" if keys.is_there else "")
        say(f"Recording from {facts.name}; {hint}.")
        show = stack.enter_context(_display(console, hint, plain=request.plain))
        controls = Controls(
            seconds=request.seconds,
            stopped=stopped,
            mark_asked=keys.pressed,
            show=_quiet_when_gone(show),
        )
        recorded = record_drive(
            Microphone(audio, facts, channels),
            sources,
            request.out,
            metadata,
            controls if remote is None else remote.beside(controls),
        )
    if remote is not None:
        remote.ended(saved_lines(recorded))
    if recorded.sound_lost:
        raise DeviceError(
            f"{facts.name!r} gave no sound at the end; pipenote check tells why. What was "
            f"recorded, {recorded.duration_s:.1f} s of sound and {recorded.reading_count} "
            f"readings, is in {recorded.session}"
        )
    return recorded


def _refuse_tail(channel: int | None, channel_count: int, pickups: tuple[int, ...]) -> None:
    """Leave one channel for the cabin."""
    if channel is None:
        return
    others = [each for each in range(1, channel_count + 1) if each not in pickups]
    if channel not in others or len(others) < 2:
        raise SessionError(
            f"--tail-channel {channel} is not possible with {channel_count} recorded: cabin and "
            "tail need a channel each, and an ignition pickup its own; see --channels"
        )


def saved_lines(recorded: Recorded) -> tuple[str, ...]:
    """Tell where the drive is, and what went wrong on the way."""
    saved = (
        f"{recorded.duration_s:.1f} s of sound and {recorded.reading_count} readings are saved in "
        f"{recorded.session}"
    )
    return (saved, *(f"Trouble: {trouble.message}" for trouble in recorded.trouble))


def _metadata(
    request: RecordingRequest,
    facts: MicrophoneFacts,
    channels: tuple[int, ...],
    pickups: tuple[int, ...],
    sources: tuple[RpmSource, ...],
) -> SessionMetadata:
    full_scale_db_spl = None
    if request.calibration is not None:
        calibration = read_calibration(request.calibration)
        cabin = (each for number, each in enumerate(channels, start=1) if number not in pickups)
        behind = ""
        if calibration.behind or is_stand_in(facts.name):
            with Microphone(load_portaudio(), facts, channels):  # only then the server can tell
                behind = sound_behind()
        check_fit(calibration, facts, tuple(cabin), behind)
        full_scale_db_spl = calibration.full_scale_db_spl
    devices = {"sound": f"{facts.name} ({facts.host}), channel {', '.join(map(str, channels))}"}
    devices |= {f"source {number}": source.name for number, source in enumerate(sources, start=1)}
    return SessionMetadata(
        name=request.out.name,
        start_time_utc=datetime.now(UTC),
        start_time_from="recorder",
        devices=devices,
        full_scale_db_spl=full_scale_db_spl,
        response=() if request.response is None else read_response(request.response),
        car=request.car,
        cylinders=request.cylinders,
        stroke_cycle=request.stroke_cycle,
        software_version=own_version(),
        pickup_channels=pickups,
        tail_channel=request.tail_channel,
    )


def _display(
    console: Console, hint: str, *, plain: bool
) -> AbstractContextManager[Callable[[Status], None]]:
    if plain or not console.is_terminal or console.is_dumb_terminal:
        return nullcontext(PlainLines(console).show)
    return live_screen(console, hint)


def _quiet_when_gone(show: Callable[[_Shown], None]) -> Callable[[_Shown], None]:
    """Show as long as there is a terminal: closing its window must not end in lost sound."""

    def shown(what: _Shown) -> None:
        with contextlib.suppress(OSError, ValueError):  # ValueError: the stream is closed
            show(what)

    return shown
