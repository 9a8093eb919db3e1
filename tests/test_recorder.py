"""Recording sound: what is on the disk at every moment, and what is told when something fails."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import math
import subprocess
import sys
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from logger.check import try_source
from logger.errors import DeviceError, SessionError
from logger.loss_watch import LossWatch
from logger.microphone import (
    Microphone,
    MicrophoneFacts,
    SoundBlock,
    choose_microphone,
    list_microphones,
    load_portaudio,
)
from logger.record import status_line
from logger.recorder import Recorded, Status, record_sound
from logger.session import SessionMetadata, read_session

RATE_HZ = 8000
BLOCK = 800  # frames: 0.1 s
LSB_24 = 2.0**-23

Samples = NDArray[np.float32]


def noise(frames: int, channels: int = 1) -> Samples:
    return np.random.default_rng(5).uniform(-0.5, 0.5, (frames, channels)).astype(np.float32)


@dataclass
class Clock:
    """Time that passes only when told to."""

    now_s: float = 1000.0

    def __call__(self) -> float:
        return self.now_s


@dataclass
class ScriptedSource:
    """Gives sound 0.1 s at a time; a number in the script is a pause without sound instead."""

    script: list[Samples | float]
    clock: Clock = field(default_factory=Clock)
    name: str = "scripted"
    sample_rate_hz: int = RATE_HZ
    channel_count: int = 1
    open_count: int = 0

    def __enter__(self) -> ScriptedSource:
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


def blocks_of(samples: Samples) -> list[Samples | float]:
    return [samples[at : at + BLOCK] for at in range(0, samples.shape[0], BLOCK)]


def record(
    source: ScriptedSource,
    out: Path,
    *,
    seconds: float | None = None,
    stopped: Callable[[], bool] = lambda: False,
    show: Callable[[Status], None] = lambda status: None,
) -> Recorded:
    return record_sound(
        source,
        out,
        SessionMetadata(name=out.name),
        seconds=seconds,
        stopped=stopped,
        show=show,
        clock=source.clock,
    )


# --- the recorder -------------------------------------------------------------------------------


def test_session_holds_exactly_what_came(tmp_path: Path) -> None:
    samples = noise(3 * RATE_HZ)
    seen: list[Status] = []
    source = ScriptedSource(blocks_of(samples))
    recorded = record(source, tmp_path / "drive", seconds=2.55, show=seen.append)
    session = read_session(tmp_path / "drive")
    read, _ = soundfile.read(tmp_path / "drive" / "audio.wav", dtype="float64", always_2d=True)
    kept = round(2.55 * RATE_HZ)
    assert (session.frame_count, session.channel_count) == (kept, 1)
    np.testing.assert_allclose(read, samples[:kept], rtol=0, atol=0.5 * LSB_24)
    assert recorded.duration_s == pytest.approx(2.55)
    assert (recorded.trouble, session.metadata.trouble) == ((), ())
    assert [status.elapsed_s for status in seen] == [1.0, 2.0]
    assert source.open_count == 0


def test_status_tells_the_level_of_the_last_second(tmp_path: Path) -> None:
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    sine = (0.5 * np.sin(2.0 * np.pi * 100.0 * time_s)).astype(np.float32)[:, np.newaxis]
    seen: list[Status] = []
    record(ScriptedSource(blocks_of(sine)), tmp_path / "drive", seconds=2.0, show=seen.append)
    assert seen[0].level_db == pytest.approx(20.0 * math.log10(0.5 / math.sqrt(2.0)), abs=0.01)
    assert seen[0].peak_db == pytest.approx(20.0 * math.log10(0.5), abs=0.01)
    assert "too loud" not in status_line(seen[0])


def test_stopping_saves(tmp_path: Path) -> None:
    answers = iter([False] * 12 + [True])
    source = ScriptedSource(blocks_of(noise(3 * RATE_HZ)))
    recorded = record(source, tmp_path / "drive", stopped=lambda: next(answers))
    assert recorded.duration_s == pytest.approx(1.2)
    assert read_session(tmp_path / "drive").frame_count == 12 * BLOCK


def test_microphone_that_goes_silent_ends_the_recording_and_is_noted(tmp_path: Path) -> None:
    recorded = record(ScriptedSource(blocks_of(noise(RATE_HZ))), tmp_path / "drive")
    assert recorded.device_lost
    assert [one.code for one in read_session(tmp_path / "drive").metadata.trouble] == [
        "microphone_lost"
    ]


def test_lost_sound_is_noted_with_place_and_length(tmp_path: Path) -> None:
    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [0.3]  # a pause of 0.3 s whose sound never comes
    recorded = record(ScriptedSource(script), tmp_path / "drive", seconds=10.0)
    (trouble,) = recorded.trouble
    assert trouble.code == "sound_lost"
    assert trouble.duration_s == pytest.approx(0.3, abs=0.02)
    assert trouble.start_s == pytest.approx(5.0, abs=2.0)
    assert read_session(tmp_path / "drive").metadata.trouble == recorded.trouble


def test_existing_folder_is_refused_and_untouched(tmp_path: Path) -> None:
    (tmp_path / "drive").mkdir()
    (tmp_path / "drive" / "audio.wav").write_bytes(b"mine")
    with pytest.raises(SessionError, match="exists already"):
        record(ScriptedSource(blocks_of(noise(BLOCK))), tmp_path / "drive")
    assert [path.name for path in (tmp_path / "drive").iterdir()] == ["audio.wav"]
    assert (tmp_path / "drive" / "audio.wav").read_bytes() == b"mine"


def test_nothing_is_left_when_no_sound_comes(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="no sound came"):
        record(ScriptedSource([]), tmp_path / "drive")
    assert list(tmp_path.iterdir()) == []


def test_stopped_before_any_sound_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        record(ScriptedSource([]), tmp_path / "drive", stopped=lambda: True)
    assert list(tmp_path.iterdir()) == []


def test_all_zero_sound_is_called_out(tmp_path: Path) -> None:
    silence = np.zeros((RATE_HZ, 1), dtype=np.float32)
    recorded = record(ScriptedSource(blocks_of(silence)), tmp_path / "drive", seconds=1.0)
    assert [one.code for one in recorded.trouble] == ["no_signal"]


KILLED_HALF_WAY = """
import os
import sys
from pathlib import Path
from tests.test_recorder import ScriptedSource, blocks_of, noise, record

class Killed(ScriptedSource):
    def next_block(self):
        if len(self.script) <= 5:
            os._exit(9)  # as a kill does: no clean-up, no buffers written
        return super().next_block()

record(Killed(blocks_of(noise(30_000))), Path(sys.argv[1]))
"""


def test_session_killed_half_way_opens_and_says_so(tmp_path: Path) -> None:
    killed = subprocess.run(
        [sys.executable, "-c", KILLED_HALF_WAY, str(tmp_path / "drive")],
        cwd=Path(__file__).parents[1],
        check=False,
    )
    assert killed.returncode == 9
    session = read_session(tmp_path / "drive")
    assert session.frame_count >= 3 * RATE_HZ  # 3.2 s came, at most the last second is lost
    assert [one.code for one in session.metadata.trouble] == ["interrupted"]
    with wave.open(str(tmp_path / "drive" / "audio.wav")) as file:
        assert file.getnframes() >= 3 * RATE_HZ


# --- counting -----------------------------------------------------------------------------------


def arrivals(seconds: float, *, clock_error: float = 0.0) -> Iterator[float]:
    for number in range(1, round(seconds * RATE_HZ / BLOCK) + 1):
        yield number * BLOCK / RATE_HZ * (1.0 + clock_error)


def losses(times_s: list[float]) -> list[float]:
    watch = LossWatch(RATE_HZ)
    noted = [watch.note(BLOCK, time_s) for time_s in times_s]
    return [loss.duration_s for loss in noted if loss is not None]


@given(st.integers(0, 2**32 - 1), st.floats(-2e-4, 2e-4))
def test_jitter_and_a_clock_that_is_off_are_no_loss(seed: int, error: float) -> None:
    jitter_s = np.random.default_rng(seed).uniform(0.0, 0.03, 600)
    times = [t + j for t, j in zip(arrivals(60, clock_error=error), jitter_s, strict=True)]
    assert losses(times) == []


@given(st.integers(100, 400), st.floats(0.2, 5.0))
def test_blocks_held_back_and_delivered_at_once_are_no_loss(at: int, held_s: float) -> None:
    times = list(arrivals(60))
    release_s = times[at] + held_s
    assert losses([max(t, release_s) if i >= at else t for i, t in enumerate(times)]) == []


@given(st.integers(100, 400), st.floats(0.08, 5.0))
def test_every_real_loss_is_told_to_within_30_ms(at: int, lost_s: float) -> None:
    times = [t + lost_s if i >= at else t for i, t in enumerate(arrivals(60))]
    assert sum(losses(times)) == pytest.approx(lost_s, abs=0.03)


# --- the microphone, with a stand-in for PortAudio ----------------------------------------------


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
    )
    return audio


MICROPHONES = list_microphones(fake_portaudio())


def test_only_inputs_are_listed_with_their_index() -> None:
    assert [(one.index, one.is_default) for one in MICROPHONES] == [(0, False), (2, True)]


@pytest.mark.parametrize(
    ("wanted", "index"), [(None, 2), ("0", 0), ("Headset", 0), ("usb measuring", 2)]
)
def test_microphone_is_chosen_by_number_or_name(wanted: str | None, index: int) -> None:
    assert choose_microphone(MICROPHONES, wanted).index == index


@pytest.mark.parametrize("wanted", ["7", "e", "guitar"])
def test_unclear_choice_is_refused_by_name(wanted: str) -> None:
    with pytest.raises(DeviceError, match="pipenote check lists them"):
        choose_microphone(MICROPHONES, wanted)


def test_no_microphone_at_all() -> None:
    with pytest.raises(DeviceError, match="no microphone was found"):
        choose_microphone((), None)


def facts() -> MicrophoneFacts:
    return MICROPHONES[1]


def test_callback_copies_the_buffer() -> None:
    with Microphone(fake_portaudio(), facts()) as microphone:
        block = microphone.next_block()
    assert block is not None
    assert np.unique(block.samples).tolist() == [0.25]


def test_stream_that_cannot_start_is_one_clear_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: FakeStream) -> None:
        raise PortAudioError("Device unavailable")

    monkeypatch.setattr(FakeStream, "start", refuse)
    with (
        pytest.raises(DeviceError, match="close other programs"),
        Microphone(fake_portaudio(), facts()),
    ):
        pass


def test_trying_a_source_tells_what_came() -> None:
    silence = np.zeros((BLOCK, 1), dtype=np.float32)
    assert "works, level" in try_source(ScriptedSource(blocks_of(noise(RATE_HZ))))
    assert "every sample is zero" in try_source(ScriptedSource([silence]))
    assert "no sound came" in try_source(ScriptedSource([]))


@pytest.mark.parametrize(
    ("platform", "cure"),
    [("linux", "sudo apt install libportaudio2"), ("darwin", "brew"), ("win32", "pip install")],
)
def test_missing_portaudio_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, platform: str, cure: str
) -> None:
    # sounddevice raises OSError at import when PortAudio is missing.
    (tmp_path / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n')
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "platform", platform)
    with pytest.raises(DeviceError, match=cure):
        load_portaudio()


def test_session_json_of_a_recording_is_plain_json(tmp_path: Path) -> None:
    record(ScriptedSource(blocks_of(noise(RATE_HZ))), tmp_path / "drive", seconds=0.5)
    stored = json.loads((tmp_path / "drive" / "session.json").read_text(encoding="utf-8"))
    assert stored["name"] == "drive"
