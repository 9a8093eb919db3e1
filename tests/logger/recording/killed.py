"""A recording in a process of its own, faster than life, that is going to be killed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
from collections.abc import Callable
from ctypes import c_longlong
from pathlib import Path

import numpy as np

from logger.microphone.contract import SoundBlock
from logger.recording.recorder import Controls, record_drive
from logger.session import SessionMetadata
from logger.sources.contract import Reading

RATE_HZ = 8000
BLOCK = 160  # frames: 20 ms, as the microphone gives them
READINGS_PER_S = 50
_PAUSE_S = 0.001
_RAMP = 1 << 20  # the sound counts its own frames


def ramp(start: int, count: int) -> np.ndarray:
    """Samples that say which frame they are [shape=(count, 1)]."""
    frames = (np.arange(start, start + count) % _RAMP).astype(np.float64)
    return (frames / _RAMP).astype(np.float32)[:, np.newaxis]


class RampSound:
    """Sound at its own pace; tells how many frames it has handed out."""

    name = "ramp"
    sample_rate_hz = RATE_HZ
    channel_count = 1
    refusal = ""

    def __init__(self, given: c_longlong) -> None:
        self._given = given
        self._pause = threading.Event()

    def __enter__(self) -> RampSound:
        return self

    def __exit__(self, *_: object) -> None:
        return

    def clock(self) -> float:
        """Seconds of the recording, by its sound: a busy machine only makes it slower."""
        return self._given.value / RATE_HZ

    def next_block(self) -> SoundBlock | None:
        """Give the next block, so fast that there are many moments to be killed at."""
        start = self._given.value
        self._pause.wait(_PAUSE_S)
        self._given.value = start + BLOCK
        return SoundBlock(samples=ramp(start, BLOCK), arrived_s=self.clock())


class CountingSource:
    """Fifty readings in a second of the sound: 1000, 1001, ..."""

    name = "counting"

    def __init__(self, given: c_longlong, clock: Callable[[], float]) -> None:
        self._given = given
        self._clock = clock
        self._pause = threading.Event()

    def read(self, timeout_s: float) -> Reading | None:
        del timeout_s
        now_s = self._clock()
        if now_s < self._given.value / READINGS_PER_S:
            self._pause.wait(_PAUSE_S)
            return None
        self._given.value += 1
        value = 999.0 + self._given.value
        return Reading(quantity="rpm", value=value, request_s=now_s, reply_s=now_s)

    def close(self) -> None:
        return


def run(out: str, frames: c_longlong, readings: c_longlong) -> None:
    """Record until somebody kills this process."""
    sound = RampSound(frames)
    record_drive(
        sound,
        (CountingSource(readings, sound.clock),),
        Path(out),
        SessionMetadata(name="killed", cylinders=6),
        Controls(
            seconds=None,
            stopped=lambda: False,
            mark_asked=lambda: False,
            show=lambda status: None,
            clock=sound.clock,
        ),
    )
