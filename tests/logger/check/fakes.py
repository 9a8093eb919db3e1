"""Sound and sources that ``check`` can try without a device."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import threading
from dataclasses import dataclass, field
from types import ModuleType

import numpy as np
import pytest
from rich.console import Console

from logger.arrays import Samples
from logger.check import check
from logger.check.check import CheckRequest, CheckResult, check_devices
from logger.check.trial import Trial, try_devices
from logger.errors import DeviceError
from logger.microphone.contract import SoundBlock
from logger.microphone.microphones import MicrophoneFacts
from logger.sources.contract import Reading, RpmSource, SourceTrouble

RATE_HZ = 8000
BLOCK = 800
REQUEST = CheckRequest(microphone=None, channels=None, rpm=(), cylinders=None, seconds=10.0)
FACTS = MicrophoneFacts(
    index=0,
    name="Measuring microphone",
    host="ALSA",
    channel_count=2,
    sample_rate_hz=RATE_HZ,
    is_default=True,
)


@dataclass
class FakeSound:
    """Gives its samples 0.1 s at a time, on a clock of its own; then nothing more.

    Afterwards, or when it cannot be opened, time passes by being looked at.
    """

    samples: Samples
    refuses: bool = False
    loses_at: int = -1  # the block before which 0.4 s are lost
    now_s: float = 100.0
    name: str = FACTS.name
    sample_rate_hz: int = RATE_HZ
    refusal: str = ""
    given: int = field(default=0)

    @property
    def channel_count(self) -> int:
        return int(self.samples.shape[1])

    def clock(self) -> float:
        if self.refuses or self.given >= self.samples.shape[0] // BLOCK:
            self.now_s += 0.2
        return self.now_s

    def __enter__(self) -> FakeSound:
        if self.refuses:
            raise DeviceError("microphone cannot be opened; close other programs")
        return self

    def __exit__(self, *_: object) -> None:
        return

    def next_block(self) -> SoundBlock | None:
        block = self.samples[self.given * BLOCK : (self.given + 1) * BLOCK]
        self.now_s += BLOCK / RATE_HZ
        if block.shape[0] < BLOCK:
            return None
        if self.given == self.loses_at:
            self.now_s += 0.4
        self.given += 1
        return SoundBlock(samples=block, arrived_s=self.now_s)


class FakeSource:
    """Gives what it was told, once."""

    def __init__(self, *events: Reading | SourceTrouble) -> None:
        self.name = "box:1"
        self._events = list(events)
        self._closed = threading.Event()

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        if self._events:
            return self._events.pop(0)
        self._closed.wait(min(timeout_s, 0.01))
        return None

    def close(self) -> None:
        self._closed.set()


class Listener(FakeSource):
    """Counts the frames it hears; its reading tells how many."""

    channel = 2
    description = "counts frames"

    def __init__(self) -> None:
        super().__init__()
        self.frames: list[tuple[int, int]] = []

    def hear(
        self, samples: Samples, *, first_frame: int, sample_rate_hz: int, arrived_s: float
    ) -> None:
        assert sample_rate_hz == RATE_HZ
        self.frames.append((first_frame, samples.shape[0]))
        self._events.append(reading(600.0, arrived_s))

    def break_off(self) -> None:
        return


def reading(value: float, at_s: float, quantity: str = "rpm", round_trip_s: float = 0.0) -> Reading:
    return Reading(quantity=quantity, value=value, request_s=at_s - round_trip_s, reply_s=at_s)


def clap(level: float = 1e-2) -> Samples:
    """Ten seconds: silence, a second and a half of noise, silence; both channels."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    rng = np.random.default_rng(1)
    loud = np.where((time_s > 4.5) & (time_s < 6.0), 10.0, 1.0)
    return (level * loud[:, np.newaxis] * rng.normal(size=(time_s.size, 2))).astype(np.float32)


def run(
    monkeypatch: pytest.MonkeyPatch,
    sound: FakeSound,
    *sources: RpmSource,
    request: CheckRequest = REQUEST,
) -> tuple[CheckResult, str, str]:
    """The check with this microphone and these sources: result, text, and what was shown."""
    put_in(monkeypatch, sound)
    monkeypatch.setattr(check, "choose_sources", lambda words, cylinders: sources)
    err, out = io.StringIO(), io.StringIO()
    result = check_devices(request, Console(file=err, width=80))
    Console(file=out, width=80).print(result.text)
    assert max(map(len, out.getvalue().splitlines())) <= 80
    words = " ".join(out.getvalue().split())
    return result, words, err.getvalue()


def put_in(monkeypatch: pytest.MonkeyPatch, sound: FakeSound) -> None:
    def trial(*args: object, **options: object) -> Trial:
        options |= {"clock": sound.clock, "first_reading_within_s": 3.0}
        return try_devices(*args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(check, "load_portaudio", lambda: ModuleType("sounddevice"))
    monkeypatch.setattr(check, "list_microphones", lambda audio: (FACTS,))
    monkeypatch.setattr(check, "Microphone", lambda audio, facts, channels: sound)
    monkeypatch.setattr(check, "try_devices", trial)


@pytest.fixture
def ports(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine without serial ports."""
    monkeypatch.setattr(check, "serial_ports", lambda: ())
