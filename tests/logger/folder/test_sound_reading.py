"""Samples of every depth against those that libsndfile itself turns into fractions."""
# SPDX-License-Identifier: GPL-2.0-or-later

from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.folder.sound_reading import read_mono_blocks

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
