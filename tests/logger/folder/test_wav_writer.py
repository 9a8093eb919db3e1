"""The WAV file that stays valid while it grows, read by libraries that did not write it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from logger.folder.wav_writer import WavWriter, to_pcm24
from tests.logger.recording.scripted import LSB_24, RATE_HZ, noise


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("frames", [1, 2, 8001])
def test_libsndfile_and_the_standard_library_read_what_was_written(
    tmp_path: Path, channels: int, frames: int
) -> None:
    samples = noise(frames, channels)
    with contextlib.closing(WavWriter(tmp_path / "a.wav", RATE_HZ, channels)) as writer:
        writer.write(samples)
    read, rate_hz = soundfile.read(tmp_path / "a.wav", dtype="float64", always_2d=True)
    assert rate_hz == RATE_HZ
    assert soundfile.info(tmp_path / "a.wav").subtype == "PCM_24"
    np.testing.assert_allclose(read, samples, rtol=0, atol=0.5 * LSB_24)
    with wave.open(str(tmp_path / "a.wav")) as file:
        assert (file.getnframes(), file.getnchannels(), file.getsampwidth()) == (
            frames,
            channels,
            3,
        )


def test_file_is_valid_after_every_renewal_without_being_closed(tmp_path: Path) -> None:
    samples = noise(4 * RATE_HZ)
    writer = WavWriter(tmp_path / "a.wav", RATE_HZ, 1)
    for second in range(4):
        writer.write(samples[second * RATE_HZ : (second + 1) * RATE_HZ])
        writer.renew()
        with wave.open(str(tmp_path / "a.wav")) as file:
            assert file.getnframes() == (second + 1) * RATE_HZ
    writer.close()


def test_writer_never_replaces_a_file(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"mine")
    with pytest.raises(FileExistsError):
        WavWriter(tmp_path / "a.wav", RATE_HZ, 1)
    assert (tmp_path / "a.wav").read_bytes() == b"mine"


@given(st.lists(st.floats(-4.0, 4.0, width=32), min_size=1, max_size=20))
def test_pcm24_rounds_to_the_nearest_step_and_clips(values: list[float]) -> None:
    packed = to_pcm24(np.array(values, dtype=np.float32))
    steps = [
        int.from_bytes(packed[at : at + 3], "little", signed=True)
        for at in range(0, len(packed), 3)
    ]
    for value, step in zip(values, steps, strict=True):
        assert abs(step - min(max(value / LSB_24, -(2**23)), 2**23 - 1)) <= 0.5
