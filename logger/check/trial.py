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
from logger.recording.sound_clock import SoundClock
from logger.recording.source_thread import SourceThread
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
    tried = [_Tried(source, SourceThread(source)) for source in sources]
    error, shown_s, pause = None, clock(), threading.Event()
    with ExitStack() as stack:
        for each in tried:
            stack.callback(each.thread.close)
            each.thread.start()
        if sound is not None:
            try:
                stack.enter_context(sound)
            except DeviceError as caught:
                error, sound = caught, None
        started_s = clock()
        heard = None if sound is None else _Hearing(sound, clock, seconds)

        def is_wanted(each: _Tried) -> bool:
            now_s = clock()
            if isinstance(each.source, SoundListener):
                sound_s = started_s if heard is None else heard.came_s
                return each.first_s is None and now_s - sound_s < _LISTENER_GRACE_S
            if each.first_s is not None:
                return now_s - each.first_s < seconds
            # whoever has told its trouble gets half the time
            return now_s - started_s < first_reading_within_s * (0.5 if each.events else 1.0)

        while (hears := heard is not None and heard.is_wanted) or any(map(is_wanted, tried)):
            if heard is not None and hears:
                heard.listen(tried)
            else:
                pause.wait(_PAUSE_S)
            for each in tried:
                each.collect()
            now_s = clock()
            if now_s - shown_s >= _SHOW_EVERY_S:
                shown_s = now_s
                level = heard.meter.look() if heard is not None and heard.is_wanted else None
                newest = tuple((each.source.name, each.newest) for each in tried)
                show(Moment(elapsed_s=shown_s - started_s, level=level, newest=newest))
    for each in tried:
        each.collect()
    return Trial(
        heard=None if heard is None else heard.result(),
        sound_error=error,
        sources=tuple(each.result() for each in tried),
    )


@dataclass(slots=True)
class _Tried:
    """A source, its thread and what came from it."""

    source: RpmSource
    thread: SourceThread
    events: list[Reading | SourceTrouble] = field(default_factory=list)

    @property
    def first_s(self) -> float | None:
        """When its first reading came."""
        return next((each.reply_s for each in self.events if isinstance(each, Reading)), None)

    @property
    def newest(self) -> str:
        """What it said last."""
        return _in_words(self.events[-1]) if self.events else "waiting"

    def collect(self) -> None:
        self.events += self.thread.events()

    def result(self) -> SourceHeard:
        return SourceHeard(
            name=self.source.name,
            description=self.source.description if isinstance(self.source, Described) else "",
            readings=tuple(event for event in self.events if isinstance(event, Reading)),
            troubles=tuple(event for event in self.events if isinstance(event, SourceTrouble)),
        )


class _Hearing:
    """The microphone, once it runs, and what came from it."""

    def __init__(self, sound: SoundSource, clock: Callable[[], float], seconds: float) -> None:
        self.meter = LevelMeter()
        self.came_s = clock()
        self._sound, self._clock = sound, clock
        self._most_frames = seconds * sound.sample_rate_hz
        self._blocks: list[SoundBlock] = []
        self._frame_count = 0
        self._stopped = False

    @property
    def is_wanted(self) -> bool:
        return not self._stopped and self._frame_count < self._most_frames

    def listen(self, tried: Sequence[_Tried]) -> None:
        """Wait for the next block, and let those hear it who listen to the sound."""
        block = self._sound.next_block()
        if block is None:
            self._stopped = self._clock() - self.came_s > _NO_SOUND_S
            return
        self.came_s = self._clock()
        for each in tried:
            if isinstance(each.source, SoundListener):
                each.source.hear(
                    block.samples,
                    first_frame=self._frame_count,
                    sample_rate_hz=self._sound.sample_rate_hz,
                    arrived_s=block.arrived_s,
                )
        self.meter.note(block.samples)
        self._blocks.append(block)
        self._frame_count += block.samples.shape[0]

    def result(self) -> SoundHeard:
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
            lost_s=sum(gap.duration_s for gap in clock.timeline.gaps),
            stopped=self._stopped,
            behind=next((block.behind for block in reversed(blocks) if block.behind), ""),
        )


def _in_words(event: Reading | SourceTrouble) -> str:
    if isinstance(event, SourceTrouble):
        return event.message
    return f"{event.quantity} {event.value:g}"
