"""The sound server for all tests with real parts, and a microphone on it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.errors import DeviceError
from logger.microphone.portaudio import load_portaudio
from tests.live.faults import LOUDSPEAKER, MICROPHONE, NAMES, RATE_HZ
from tests.live.sound_card import SoundCard
from tests.live.sound_server import NoSoundServerError, SoundServer, missing_parts


@pytest.fixture(scope="session")
def sound_server() -> Iterator[SoundServer]:
    """Skips, with the reason, where a part of it is missing."""
    if missing := missing_parts():
        pytest.skip(f"not installed: {missing}")
    try:
        load_portaudio()
    except DeviceError as error:
        pytest.skip(str(error))
    with tempfile.TemporaryDirectory(prefix="sound") as folder:  # the path of a socket is short
        server = SoundServer(Path(folder), NAMES)
        try:
            server.__enter__()
        except NoSoundServerError as error:
            pytest.skip(f"PulseAudio does not start: {error}")
        try:
            yield server
        finally:
            server.__exit__(None, None, None)


@pytest.fixture
def card(sound_server: SoundServer) -> Iterator[SoundCard]:
    with SoundCard(sound_server, MICROPHONE, RATE_HZ) as card:
        yield card


@pytest.fixture
def loudspeaker(sound_server: SoundServer) -> Iterator[str]:
    """A null sink; what is played to it can be recorded from the microphone of the same name."""
    sink = ("module-null-sink", f"sink_name={LOUDSPEAKER}", "rate=48000", "channels=1")
    module = sound_server.load(*sink)
    yield LOUDSPEAKER
    sound_server.control("unload-module", module)
