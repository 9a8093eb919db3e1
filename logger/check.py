"""``check``: what could record here, and does it hear anything."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rich.console import Group, RenderableType
from rich.text import Text
from serial.tools import list_ports

from logger.errors import DeviceError
from logger.microphone import (
    Microphone,
    SoundSource,
    choose_microphone,
    list_microphones,
    load_portaudio,
)
from logger.text_tables import microphone_table

_TRY_BLOCKS = 50
_TRY_WAITS = 10
_BYTES_PER_HOUR = 3600 * 48_000 * 3  # one channel, 24 bit


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """Everything that could be found out, and what stands in the way of recording."""

    text: RenderableType
    trouble: DeviceError | None


def check_devices(*, wanted: str | None) -> CheckResult:
    """Look at microphones, serial ports and the disk, and try the chosen microphone."""
    trouble: DeviceError | None = None
    parts: list[RenderableType] = [Text(_serial_line()), Text(_disk_line())]
    try:
        parts.insert(0, _sound(wanted))
    except DeviceError as error:
        trouble = error
    return CheckResult(text=Group(*parts), trouble=trouble)


def try_source(source: SoundSource) -> str:
    """Listen for about a second and say what came."""
    heard: list[NDArray[np.float32]] = []
    waits = 0
    with source:
        while len(heard) < _TRY_BLOCKS and waits < _TRY_WAITS:
            block = source.next_block()
            if block is None:
                waits += 1
            else:
                heard.append(block.samples)
    if not heard:
        return f"{source.name}: no sound came; is it in use elsewhere, or not allowed?"
    samples = np.concatenate(heard).astype(np.float64)
    mean_square = float(np.mean(samples**2))
    if mean_square == 0.0:
        return f"{source.name}: every sample is zero; allow this program to use the microphone"
    return f"{source.name}: works, level {10.0 * np.log10(mean_square):.1f} dB re full scale"


def _sound(wanted: str | None) -> RenderableType:
    audio = load_portaudio()
    microphones = list_microphones(audio)
    chosen = choose_microphone(microphones, wanted)
    return Group(microphone_table(microphones), Text(try_source(Microphone(audio, chosen))))


def _serial_line() -> str:
    ports = [f"{port.device} ({port.description})" for port in list_ports.comports()]
    return f"Serial ports: {', '.join(ports) or 'none'}"


def _disk_line() -> str:
    free_bytes = shutil.disk_usage(Path.cwd()).free
    return (
        f"Free disk here: {free_bytes / 1e9:.1f} GB, {free_bytes / _BYTES_PER_HOUR:.0f} h of sound"
    )
