"""Samples of every depth against those that libsndfile itself turns into fractions."""
# SPDX-License-Identifier: GPL-2.0-or-later

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.errors import AudioError
from logger.folder.sound_reading import plain_facts, read_mono_blocks
from logger.folder.wav_repair import read_wav_layout
from tests.logger.folders import noise

RATE_HZ = 1000


@pytest.mark.parametrize(
    ("file_format", "subtype"),
    [("WAV", kind) for kind in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")]
    + [("FLAC", kind) for kind in ("PCM_S8", "PCM_16", "PCM_24")],
)
def test_samples_are_the_librarys_own_to_the_last_bit(
    tmp_path: Path, file_format: str, subtype: str
) -> None:
    samples = np.random.default_rng(1).uniform(-1.0, 1.0, (20 * RATE_HZ, 2))
    samples[:3, 1] = -1.0, 1.0, 1e-9
    path = tmp_path / f"a.{file_format.lower()}"
    soundfile.write(path, samples, RATE_HZ, subtype=subtype, format=file_format)
    expected, _ = soundfile.read(path, dtype="float32")
    blocks = list(read_mono_blocks([path], 2))
    assert len(blocks) > 1
    assert all(block.dtype == np.float32 for block in blocks)
    np.testing.assert_array_equal(np.concatenate(blocks), expected[:, 1])


@pytest.mark.parametrize("where", ["before the samples", "behind them"])
def test_a_header_without_an_end_is_given_up(tmp_path: Path, where: str) -> None:
    """As a sparse file behind a header: minutes of empty chunks."""
    path, empty = tmp_path / "x.wav", b"junk\0\0\0\0" * 10_001
    fmt = b"fmt " + struct.pack("<IHHIIHH", 16, 1, 1, 8000, 16000, 2, 16)
    data = b"data" + struct.pack("<I", 4) + bytes(4)
    before, behind = (empty, b"") if where == "before the samples" else (b"", empty)
    path.write_bytes(b"RIFF\0\0\0\0WAVE" + fmt + before + data + behind)
    if before:
        with pytest.raises(AudioError, match="damaged WAV header"):
            read_wav_layout(path)
    else:
        layout = read_wav_layout(path)
        assert layout is not None
        assert layout.facts.sizes_are_wrong


def test_what_begins_as_mpeg_is_left_to_the_decoder_without_the_librarys_own_words(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """It writes notes to the screen, from C, about every frame that it misses."""
    path = tmp_path / "x.wav"
    soundfile.write(path, noise(1.2, 2), 8000, subtype="PCM_16")
    path.write_bytes(b"\xff\xfe" + path.read_bytes())
    assert plain_facts(path) is None
    assert capfd.readouterr().err == ""
