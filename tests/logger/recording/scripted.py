"""Sound and sources that follow a script, with a clock that passes only when told to."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from logger.arrays import Samples
from logger.microphone.contract import SoundBlock
from logger.recording.clock_watch import Clocks
from logger.recording.recorder import Controls, Recorded, record_drive
from logger.recording.status import Status
from logger.session import SessionMetadata
from logger.sources.contract import Reading, RpmSource, SourceTrouble

RATE_HZ = 8000
BLOCK = 800  # frames: 0.1 s
LSB_24 = 2.0**-23  # smallest step of a 24-bit sample, full scale -1..1
_PAUSE_S = 0.01  # a thread that never waits takes the processor from all others
WAIT_S = 0.2  # after which the sound says that none came
START_S = 1000.0  # what the clock shows at first


def noise(frames: int, channels: int = 1) -> Samples:
    return np.random.default_rng(5).uniform(-0.5, 0.5, (frames, channels)).astype(np.float32)


def blocks_of(samples: Samples) -> list[Samples | float]:
    return [samples[at : at + BLOCK] for at in range(0, samples.shape[0], BLOCK)]


@dataclass
class Clock:
    """Time that passes only when told to."""

    now_s: float = START_S

    def __call__(self) -> float:
        return self.now_s

    def all(self) -> Clocks:
        return Clocks(perf_s=self.now_s, awake_or_asleep_s=self.now_s, wall_s=self.now_s)


@dataclass
class ScriptedSound:
    """Gives sound 0.1 s at a time; a number in the script is a pause without sound instead."""

    script: list[Samples | float]
    clock: Clock = field(default_factory=Clock)
    name: str = "scripted"
    sample_rate_hz: int = RATE_HZ
    channel_count: int = 1
    open_count: int = 0
    refusal: str = ""

    def __enter__(self) -> ScriptedSound:
        self.open_count += 1
        return self

    def __exit__(self, *_: object) -> None:
        self.open_count -= 1

    def next_block(self) -> SoundBlock | None:
        """The script's next entry; silence when it is over."""
        entry = self.script.pop(0) if self.script else 0.5
        if isinstance(entry, float):
            self.clock.now_s += entry
            return None
        self.clock.now_s += entry.shape[0] / self.sample_rate_hz
        return SoundBlock(samples=entry, arrived_s=self.clock.now_s)


class LiveSound(ScriptedSound):
    """Sound that comes at its own pace, also while nobody takes it; it never ends.

    ``held`` is a span of session time at whose end all that came in it is there at once.
    """

    held: tuple[float, float] = (0.0, 0.0)
    _taken: int = 0

    def next_block(self) -> SoundBlock | None:
        """The next 0.1 s, as soon as it is there."""
        due_s = (self._taken + 1) * BLOCK / RATE_HZ
        begin_s, end_s = self.held
        arrived_s = START_S + (end_s if begin_s < due_s < end_s else due_s)
        if self.clock.now_s + WAIT_S < arrived_s:
            self.clock.now_s += WAIT_S
            return None
        self.clock.now_s = max(self.clock.now_s, arrived_s)
        self._taken += 1
        return SoundBlock(samples=noise(BLOCK), arrived_s=arrived_s)


class ScriptedSource:
    """Gives what it was told, all at once, then nothing; an exception in the script is raised."""

    def __init__(self, *events: Reading | SourceTrouble | Exception, name: str = "box:1") -> None:
        self.name = name
        self.close_count = 0
        self._events = list(events)
        self._closed = threading.Event()

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        if not self._events:
            self._closed.wait(min(timeout_s, _PAUSE_S))
            return None
        event = self._events.pop(0)
        if isinstance(event, Exception):
            raise event
        return event

    def close(self) -> None:
        self._closed.set()
        self.close_count += 1


class AtOnce(Executor):
    """A disk that takes no time: the script's clock does not wait for another thread."""

    def submit(self, job: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        try:
            done.set_result(job(*args, **kwargs))
        except OSError as error:
            done.set_exception(error)
        return done


def rpm(value: float, at_s: float, *, round_trip_s: float = 0.0) -> Reading:
    """A reading at this session time, with an answer that took so long."""
    half_s = 0.5 * round_trip_s
    return Reading(
        quantity="rpm",
        value=value,
        request_s=START_S + at_s - half_s,
        reply_s=START_S + at_s + half_s,
    )


def record(
    sound: ScriptedSound,
    out: Path,
    *sources: RpmSource,
    seconds: float | None = None,
    stopped: Callable[[], bool] = lambda: False,
    mark_asked: Callable[[], bool] = lambda: False,
    show: Callable[[Status], None] = lambda status: None,
    read_clocks: Callable[[], Clocks] | None = None,
    disk: Callable[[], Executor] = AtOnce,
) -> Recorded:
    return record_drive(
        sound,
        sources,
        out,
        SessionMetadata(name=out.name),
        Controls(
            seconds=seconds,
            stopped=stopped,
            mark_asked=mark_asked,
            show=show,
            clock=sound.clock,
            read_clocks=read_clocks or sound.clock.all,
            disk=disk,
        ),
    )
