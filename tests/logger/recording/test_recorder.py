"""Recording: the session that comes of it, its level and its marks, and how it begins and ends."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.errors import DeviceError, SessionError
from logger.recording.status import Light, Status
from logger.session import read_session
from logger.sources.pulse.source import PulseSource
from tests.logger.recording.scripted import (
    BLOCK,
    LSB_24,
    RATE_HZ,
    ScriptedSound,
    ScriptedSource,
    blocks_of,
    noise,
    record,
    rpm,
)


def test_session_holds_exactly_what_came(tmp_path: Path) -> None:
    samples = noise(3 * RATE_HZ)
    seen: list[Status] = []
    sound = ScriptedSound(blocks_of(samples))
    recorded = record(sound, tmp_path / "drive", seconds=2.55, show=seen.append)
    session = read_session(tmp_path / "drive")
    read, _ = soundfile.read(tmp_path / "drive" / "audio.wav", dtype="float64", always_2d=True)
    kept = round(2.55 * RATE_HZ)
    assert (session.frame_count, session.channel_count) == (kept, 1)
    np.testing.assert_allclose(read, samples[:kept], rtol=0, atol=0.5 * LSB_24)
    assert recorded.duration_s == pytest.approx(2.55)
    assert (recorded.trouble, session.metadata.trouble) == ((), ())
    assert len(seen) == pytest.approx(2.55 / 0.5, abs=1)  # two a second
    assert sound.open_count == 0


def test_status_tells_the_level_of_a_sine(tmp_path: Path) -> None:
    # AES17: the level of a sine of half the full scale is -6.02 dB.
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    sine = (0.5 * np.sin(2.0 * np.pi * 100.0 * time_s)).astype(np.float32)[:, np.newaxis]
    seen: list[Status] = []
    record(ScriptedSound(blocks_of(sine)), tmp_path / "drive", seconds=2.0, show=seen.append)
    assert seen[1].level_db == pytest.approx(20.0 * math.log10(0.5), abs=0.01)
    assert seen[1].peak_db == pytest.approx(20.0 * math.log10(0.5), abs=0.01)
    assert seen[1].level_unit == "dB re full scale"
    assert not seen[1].is_too_loud


def test_stopping_saves(tmp_path: Path) -> None:
    answers = iter([False] * 12 + [True])
    sound = ScriptedSound(blocks_of(noise(3 * RATE_HZ)))
    recorded = record(sound, tmp_path / "drive", stopped=lambda: next(answers))
    assert recorded.duration_s == pytest.approx(1.2)
    assert read_session(tmp_path / "drive").frame_count == 12 * BLOCK


def test_all_zero_sound_is_called_out(tmp_path: Path) -> None:
    silence = np.zeros((RATE_HZ, 1), dtype=np.float32)
    recorded = record(ScriptedSound(blocks_of(silence)), tmp_path / "drive", seconds=1.0)
    assert [one.code for one in recorded.trouble] == ["no_signal"]


def test_a_stretch_of_zeros_is_told_with_its_place_and_length(tmp_path: Path) -> None:
    # As when a sound server moves the stream to a device that is not there.
    samples = noise(12 * RATE_HZ)
    samples[3 * RATE_HZ : 8 * RATE_HZ] = 0.0
    samples[10 * RATE_HZ : round(10.3 * RATE_HZ)] = 0.0  # a loose plug, for a moment
    seen: list[Status] = []
    sound = ScriptedSound(blocks_of(samples))
    recorded = record(sound, tmp_path / "drive", seconds=11.0, show=seen.append)
    (told,) = recorded.trouble
    assert told.code == "no_signal"
    assert told.start_s == pytest.approx(3.0)
    assert told.duration_s == pytest.approx(5.0)
    assert seen[12].devices[0].light is Light.LOST
    assert seen[-1].devices[0].light is Light.GOOD


def test_level_is_that_of_the_cabin_and_not_of_the_ignition_beside_it(tmp_path: Path) -> None:
    cabin = np.full((4 * RATE_HZ, 1), 0.01, dtype=np.float32)
    sparks = np.ones((4 * RATE_HZ, 1), dtype=np.float32)
    sound = ScriptedSound(blocks_of(np.hstack([cabin, sparks])), channel_count=2)
    seen: list[Status] = []
    record(sound, tmp_path / "drive", PulseSource("2@0.5"), seconds=3.0, show=seen.append)
    assert seen[-1].peak_db == pytest.approx(20.0 * math.log10(0.01), abs=0.01)
    assert not seen[-1].is_too_loud


def test_silent_microphone_is_called_out_although_the_ignition_is_heard(tmp_path: Path) -> None:
    silence = np.zeros((2 * RATE_HZ, 1), dtype=np.float32)
    sound = ScriptedSound(blocks_of(np.hstack([silence, noise(2 * RATE_HZ)])), channel_count=2)
    recorded = record(sound, tmp_path / "drive", PulseSource("2@0.5"), seconds=2.0)
    assert "no_signal" in [one.code for one in recorded.trouble]


def test_marks_are_kept(tmp_path: Path) -> None:
    answers = iter([False] * 20 + [True] + [False] * 100)
    sound = ScriptedSound(blocks_of(noise(4 * RATE_HZ)))
    record(sound, tmp_path / "drive", seconds=3.0, mark_asked=lambda: next(answers))
    assert read_session(tmp_path / "drive").metadata.marks_s == pytest.approx((2.1,))


def test_existing_folder_is_refused_and_untouched(tmp_path: Path) -> None:
    (tmp_path / "drive").mkdir()
    (tmp_path / "drive" / "audio.wav").write_bytes(b"mine")
    with pytest.raises(SessionError, match="exists already"):
        record(ScriptedSound(blocks_of(noise(BLOCK))), tmp_path / "drive")
    assert [path.name for path in (tmp_path / "drive").iterdir()] == ["audio.wav"]
    assert (tmp_path / "drive" / "audio.wav").read_bytes() == b"mine"


def test_nothing_is_left_when_no_sound_comes(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="no sound came"):
        record(ScriptedSound([]), tmp_path / "drive", ScriptedSource(rpm(900.0, 1.0)))
    assert list(tmp_path.iterdir()) == []


def test_stopped_before_any_sound_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        record(ScriptedSound([]), tmp_path / "drive", stopped=lambda: True)
    assert list(tmp_path.iterdir()) == []


def test_session_json_of_a_recording_is_plain_json(tmp_path: Path) -> None:
    record(ScriptedSound(blocks_of(noise(RATE_HZ))), tmp_path / "drive", seconds=0.5)
    stored = json.loads((tmp_path / "drive" / "session.json").read_text(encoding="utf-8"))
    assert (stored["name"], stored["state"]) == ("drive", "complete")
