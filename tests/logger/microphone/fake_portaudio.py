"""A stand-in for sounddevice, as far as the microphone uses it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import numpy as np

BLOCK = 2400  # frames: as many as the microphone hands over at once


class PortAudioError(Exception):
    """As sounddevice names it."""


class FakeStream:
    def __init__(self, callback: Callable[..., None], **options: object) -> None:
        self.callback = callback
        self.options = options

    def start(self) -> None:
        buffer = np.full((BLOCK, 2), 0.25, dtype=np.float32)
        self.callback(buffer, BLOCK, None, None)
        buffer[:] = 9.0  # PortAudio uses its buffer again

    def close(self) -> None:
        return


def fake_portaudio() -> ModuleType:
    audio = ModuleType("sounddevice")
    inputs = {"max_input_channels": 2, "default_samplerate": 48000.0, "hostapi": 0}
    devices = [
        {"name": "Headset", **inputs},
        {"name": "Speaker", **inputs, "max_input_channels": 0},
        {"name": "USB measuring microphone", **inputs},
    ]
    vars(audio).update(
        PortAudioError=PortAudioError,
        InputStream=FakeStream,
        query_devices=lambda: devices,
        query_hostapis=lambda: [{"name": "ALSA"}],
        default=type("Default", (), {"device": (2, 1)}),
        _terminate=lambda: None,
        _initialize=lambda: None,
    )
    return audio
