"""A recording in a process of its own, ten times faster than life, that is going to be killed."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import threading
import time
from ctypes import c_longlong
from pathlib import Path

import numpy as np

from logger.microphone.device import SoundBlock
from logger.recording.recorder import Controls, record_drive
from logger.session import SessionMetadata
from logger.sources.contract import Reading

RATE_HZ = 8000
BLOCK = 160  # frames: 20 ms, as the microphone gives them
FASTER = 10.0
_RAMP = 1 << 20  # the sound counts its own frames


def clock() -> float:
    """Seconds of the recording."""
    return FASTER * time.perf_counter()


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
        self._start_s = clock()
        return self

    def __exit__(self, *_: object) -> None:
        return

    def next_block(self) -> SoundBlock | None:
        """Wait until the block has been played."""
        start = self._given.value
        self._pause.wait(max(0.0, self._start_s + (start + BLOCK) / RATE_HZ - clock()) / FASTER)
        self._given.value = start + BLOCK
        return SoundBlock(samples=ramp(start, BLOCK), arrived_s=clock())


class CountingSource:
    """Fifty readings a second, 1000, 1001, ..."""

    name = "counting"

    def __init__(self, given: c_longlong) -> None:
        self._given = given
        self._pause = threading.Event()

    def read(self, timeout_s: float) -> Reading | None:
        del timeout_s
        self._pause.wait(0.02 / FASTER)
        self._given.value += 1
        now_s = clock()
        value = 999.0 + self._given.value
        return Reading(quantity="rpm", value=value, request_s=now_s, reply_s=now_s)

    def close(self) -> None:
        return


def run(out: str, frames: c_longlong, readings: c_longlong) -> None:
    """Record until somebody kills this process."""
    record_drive(
        RampSound(frames),
        (CountingSource(readings),),
        Path(out),
        SessionMetadata(name="killed", cylinders=6),
        Controls(
            seconds=None,
            stopped=lambda: False,
            mark_asked=lambda: False,
            show=lambda status: None,
            clock=clock,
        ),
    )
