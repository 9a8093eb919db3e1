"""Try the microphone and the sources of rpm together, as a recording would use them."""
# SPDX-License-Identifier: GPL-2.0-or-later

import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from logger.arrays import Samples
from logger.errors import DeviceError
from logger.microphone.contract import SoundBlock, SoundSource
from logger.microphone.level_meter import Level, LevelMeter
from logger.recording.source_thread import SourceThread
from logger.recording.timeline import SoundClock
from logger.sources.contract import Reading, RpmSource, SoundListener, SourceTrouble

# judgement: a shorter wait calls a slow device dead, a longer one keeps whoever waits; no value
# changes.
_NO_SOUND_S = 3.0
_FIRST_READING_WITHIN_S = 30.0  # an adapter that must find its protocol takes its time
_LISTENER_GRACE_S = 1.0
_PAUSE_S = 0.05
_SHOW_EVERY_S = 0.1


@runtime_checkable
class Described(Protocol):
    """A source that can tell what it talks to, such as adapter and protocol."""

    @property
    def description(self) -> str:
        """One line, empty before it knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundHeard:
    """What came from the microphone.

    Attributes
    ----------
    samples : ndarray [shape=(n_frames, n_channels)]
    arrived_s, frames_then : ndarray [shape=(n_blocks,)]
        When each block was there, and how many frames had come with it.
    lost_s : float
        Sound that is missing in between.
    stopped : bool
        Whether the sound ended before its time.
    behind : str
        The device it came from, where the microphone's name may stand for any; else empty.
    """

    sample_rate_hz: int
    samples: Samples
    arrived_s: NDArray[np.float64]
    frames_then: NDArray[np.int64]
    lost_s: float
    stopped: bool
    behind: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceHeard:
    """What came from a source of rpm; its own words about the device, when it has any."""

    name: str
    description: str
    readings: tuple[Reading, ...]
    troubles: tuple[SourceTrouble, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """What came from everything; ``sound_error`` when the microphone cannot be started."""

    heard: SoundHeard | None
    sound_error: DeviceError | None
    sources: tuple[SourceHeard, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """How a trial stands, for whoever watches; no level when no sound is tried any more."""

    elapsed_s: float
    level: Level | None
    newest: tuple[tuple[str, str], ...]  # name of a source and what it said last


def try_devices(
    sound: SoundSource | None,
    sources: Sequence[RpmSource],
    *,
    seconds: float,
    show: Callable[[Moment], None],
    clock: Callable[[], float] = time.perf_counter,
    first_reading_within_s: float = _FIRST_READING_WITHIN_S,
) -> Trial:
    """Listen to everything for ``seconds`` from its first sign of life.

    Sources that listen to the sound end with it.
    """
    return _Run(sound, sources, seconds, show, clock, first_reading_within_s).go()


@dataclass(slots=True)
class _Tried:
    """A source, its thread and what came from it."""

    source: RpmSource
    thread: SourceThread
    events: list[Reading | SourceTrouble] = field(default_factory=list)


class _Run:
    def __init__(
        self,
        sound: SoundSource | None,
        sources: Sequence[RpmSource],
        seconds: float,
        show: Callable[[Moment], None],
        clock: Callable[[], float],
        first_reading_within_s: float,
    ) -> None:
        self._sound = sound
        self._seconds = seconds
        self._show = show
        self._clock = clock
        self._within_s = first_reading_within_s
        self._started_s = clock()
        self._shown_s = self._started_s
        self._came_s = self._started_s
        self._meter = LevelMeter()
        self._blocks: list[SoundBlock] = []
        self._frame_count = 0
        self._tried = [_Tried(source, SourceThread(source)) for source in sources]
        self._stopped = False

    def go(self) -> Trial:
        error = None
        with ExitStack() as stack:
            for tried in self._tried:
                stack.callback(tried.thread.close)
                tried.thread.start()
            if self._sound is not None:
                try:
                    stack.enter_context(self._sound)
                except DeviceError as caught:
                    error, self._sound = caught, None
            self._started_s = self._came_s = self._clock()
            pause = threading.Event()
            while self._sound_wanted() or self._sources_wanted():
                if self._sound_wanted():
                    self._listen()
                else:
                    pause.wait(_PAUSE_S)
                self._collect()
        self._collect()
        return Trial(heard=self._heard(), sound_error=error, sources=self._sources_heard())

    def _sound_wanted(self) -> bool:
        if self._sound is None or self._stopped:
            return False
        return self._frame_count < self._seconds * self._sound.sample_rate_hz

    def _sources_wanted(self) -> bool:
        now_s = self._clock()
        return any(self._is_wanted(tried, now_s) for tried in self._tried)

    def _is_wanted(self, tried: _Tried, now_s: float) -> bool:
        first_s = next((e.reply_s for e in tried.events if isinstance(e, Reading)), None)
        if isinstance(tried.source, SoundListener):
            return first_s is None and now_s - self._came_s < _LISTENER_GRACE_S
        if first_s is not None:
            return now_s - first_s < self._seconds
        # whoever has told its trouble gets half the time
        return now_s - self._started_s < self._within_s * (0.5 if tried.events else 1.0)

    def _listen(self) -> None:
        assert self._sound is not None
        block = self._sound.next_block()
        if block is None:
            self._stopped = self._clock() - self._came_s > _NO_SOUND_S
            return
        self._came_s = self._clock()
        for tried in self._tried:
            if isinstance(tried.source, SoundListener):
                tried.source.hear(
                    block.samples,
                    first_frame=self._frame_count,
                    sample_rate_hz=self._sound.sample_rate_hz,
                    arrived_s=block.arrived_s,
                )
        self._meter.note(block.samples)
        self._blocks.append(block)
        self._frame_count += block.samples.shape[0]

    def _collect(self) -> None:
        for tried in self._tried:
            tried.events += tried.thread.events()
        now_s = self._clock()
        if now_s - self._shown_s >= _SHOW_EVERY_S:
            self._shown_s = now_s
            self._show(
                Moment(
                    elapsed_s=now_s - self._started_s,
                    level=self._meter.look() if self._sound_wanted() else None,
                    newest=tuple(
                        (each.source.name, _in_words(each.events[-1]) if each.events else "waiting")
                        for each in self._tried
                    ),
                )
            )

    def _heard(self) -> SoundHeard | None:
        if self._sound is None:
            return None
        rate_hz, blocks = self._sound.sample_rate_hz, self._blocks
        clock = SoundClock(rate_hz)
        for block in blocks:
            clock.note(block.samples.shape[0], block.arrived_s)
        empty = np.empty((0, self._sound.channel_count), dtype=np.float32)
        return SoundHeard(
            sample_rate_hz=rate_hz,
            samples=np.concatenate([empty, *(block.samples for block in blocks)]),
            arrived_s=np.array([block.arrived_s for block in blocks]),
            frames_then=np.cumsum([len(block.samples) for block in blocks], dtype=np.int64),
            lost_s=sum(gap.duration_s for gap in clock.gaps),
            stopped=self._stopped,
            behind=next((block.behind for block in reversed(blocks) if block.behind), ""),
        )

    def _sources_heard(self) -> tuple[SourceHeard, ...]:
        return tuple(
            SourceHeard(
                name=each.source.name,
                description=each.source.description if isinstance(each.source, Described) else "",
                readings=tuple(event for event in each.events if isinstance(event, Reading)),
                troubles=tuple(event for event in each.events if isinstance(event, SourceTrouble)),
            )
            for each in self._tried
        )


def _in_words(event: Reading | SourceTrouble) -> str:
    if isinstance(event, SourceTrouble):
        return event.message
    return f"{event.quantity} {event.value:g}"
