"""``record``: cautions, microphone, session folder, a line a second, and where it all went."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console
from rich.live import Live
from rich.text import Text

from logger.errors import DeviceError
from logger.microphone import Microphone, choose_microphone, list_microphones, load_portaudio
from logger.recorder import Recorded, Status, record_sound
from logger.session import SessionMetadata
from logger.stop_signals import stop_signals

CAUTIONS = (
    "Drive by the law and not by the rev counter. Start the log before you set off; let a second "
    "person watch it, or leave it alone until you have stopped.",
    "Never run an engine indoors. Carry a carbon monoxide alarm in the cabin: it has no smell.",
    "A loud cabin harms hearing: above 85 dB(A) wear protection or keep the drive short.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingRequest:
    """What a person asked for; ``seconds`` None records until it is stopped."""

    out: Path
    car: Mapping[str, object] | None
    cylinders: int | None
    stroke_cycle: int
    microphone: str | None
    seconds: float | None
    plain: bool
    software_version: str


def record(request: RecordingRequest, console: Console) -> tuple[Recorded, bool]:
    """Record; also tells whether somebody interrupted it.

    Raises
    ------
    DeviceError
        No microphone, or it stopped while recording: what came before is saved.
    SessionError
        The folder exists or cannot be written.
    """
    audio = load_portaudio()
    facts = choose_microphone(list_microphones(audio), request.microphone)
    for caution in CAUTIONS:
        console.print(caution)
    metadata = SessionMetadata(
        name=request.out.name,
        start_time_utc=datetime.now(UTC),
        devices={"sound": f"{facts.name} ({facts.host})"},
        car=request.car,
        cylinders=request.cylinders,
        stroke_cycle=request.stroke_cycle,
        software_version=request.software_version,
    )
    with stop_signals() as stopped, _display(console, plain=request.plain) as show:
        console.print(f"Recording from {facts.name}; Ctrl-C saves and stops.")
        recorded = record_sound(
            Microphone(audio, facts),
            request.out,
            metadata,
            seconds=request.seconds,
            stopped=stopped,
            show=show,
        )
        interrupted = stopped()
    if recorded.device_lost:
        raise DeviceError(
            f"{facts.name!r} stopped after {recorded.duration_s:.1f} s; plug it in again. What was "
            f"recorded until then is in {recorded.session}"
        )
    return recorded, interrupted


@contextmanager
def _display(console: Console, *, plain: bool) -> Iterator[Callable[[Status], None]]:
    if plain or not console.is_terminal:
        yield lambda status: console.print(status_line(status))
        return
    with Live(Text("waiting for sound"), console=console, refresh_per_second=4) as live:
        yield lambda status: live.update(Text(status_line(status)))


def status_line(status: Status) -> str:
    """Time, level and peak; a peak near 0 dB is too loud."""
    warning = "  too loud: lower the input level" if status.peak_db > -1.0 else ""
    trouble = f"  trouble: {status.trouble_count}" if status.trouble_count else ""
    return (
        f"{status.elapsed_s:7.0f} s  level {status.level_db:6.1f} dB  "
        f"peak {status.peak_db:6.1f} dB re full scale{warning}{trouble}"
    )
