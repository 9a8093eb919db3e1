"""The sound at a low rate is the same sound: level, phase and time are kept at any rate."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import io
import os
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.basics.arrays import FloatArray
from analysis.drive import SampleBlock, Sound
from analysis.errors import DriveError
from analysis.find.sound import working_copy
from analysis.find.sound.working_copy import WorkingCopy, decimated
from tests.analysis.made_drives import copy_of

PASSBAND_ERROR = 2e-3  # of the amplitude, and in radian: 0.02 dB, 0.1 degree
STOPBAND = 1e-3  # 60 dB down
RATES_HZ = (8000.0, 11_025.0, 16_000.0, 22_050.0, 32_000.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0)


def tone(frequency_hz: float, time_s: FloatArray) -> FloatArray:
    return np.cos(2.0 * np.pi * frequency_hz * time_s + 1.0)


def low_rate(samples: FloatArray, rate_hz: float) -> tuple[FloatArray, float]:
    with copy_of(samples, rate_hz) as copy:
        return copy.read(0, copy.frame_count).astype(np.float64), copy.sample_rate_hz


@settings(max_examples=30)
@given(
    st.one_of(st.sampled_from(RATES_HZ), st.floats(8000.0, 192_000.0)),
    st.floats(0.005, 0.3),
)
def test_a_tone_keeps_level_and_phase(rate_hz: float, part_of_low_rate: float) -> None:
    step = max(1, round(rate_hz / 4000.0))
    frequency_hz = part_of_low_rate * rate_hz / step
    samples = tone(frequency_hz, np.arange(round(0.1 * rate_hz)) / rate_hz)
    out, low_rate_hz = low_rate(samples, rate_hz)
    assert 2500.0 < low_rate_hz < 6000.0
    expected = tone(frequency_hz, np.arange(out.size) / low_rate_hz)
    middle = slice(30, -30)
    assert np.abs(out[middle] - expected[middle]).max() < PASSBAND_ERROR


@settings(max_examples=20)
@given(st.sampled_from(RATES_HZ), st.floats(0.0, 1.0))
def test_what_would_fold_into_the_used_band_is_gone(rate_hz: float, part: float) -> None:
    step = round(rate_hz / 4000.0)
    low_hz = rate_hz / step
    frequency_hz = 0.7 * low_hz + part * (0.5 * rate_hz - 0.7 * low_hz)
    folded_hz = abs(frequency_hz - low_hz * round(frequency_hz / low_hz))
    samples = tone(frequency_hz, np.arange(round(0.1 * rate_hz)) / rate_hz)
    out, _ = low_rate(samples, rate_hz)
    if folded_hz < 0.3 * low_hz:
        assert np.abs(out[30:-30]).max() < STOPBAND


@settings(max_examples=40)
@given(
    st.integers(1, 48),
    st.integers(0, 2**32 - 1),
    st.lists(st.integers(0, 400), min_size=1, max_size=12),
)
def test_blocks_joined_are_the_whole(step: int, seed: int, sizes: list[int]) -> None:
    samples = np.random.default_rng(seed).normal(size=sum(sizes)).astype(np.float32)
    cuts = np.cumsum(sizes)[:-1]
    whole = list(decimated(iter([samples]), step))
    parts = list(decimated(iter(np.split(samples, cuts)), step))
    joined, at_once = (np.concatenate([*each, np.empty(0)]) for each in (parts, whole))
    assert joined.size == at_once.size == -(-samples.size // step)
    assert np.abs(joined - at_once).max(initial=0.0) < 1e-5


@pytest.mark.parametrize("step", [1, 2, 11, 48])
def test_blocks_of_one_sample(step: int) -> None:
    samples = np.random.default_rng(step).normal(size=700).astype(np.float32)
    singles = np.concatenate(list(decimated(iter(np.split(samples, 700)), step)))
    whole = np.concatenate(list(decimated(iter([samples]), step)))
    assert np.abs(singles - whole).max() < 1e-5


@settings(max_examples=30)
@given(st.integers(-500, 1500), st.integers(0, 800))
def test_reading_beyond_the_ends_gives_silence(start: int, count: int) -> None:
    samples = np.arange(1.0, 1001.0) / 1000.0
    padded = np.concatenate([np.zeros(2000), samples, np.zeros(2000)])
    with copy_of(samples) as copy:
        out = copy.read(start, count)
    assert out.tolist() == padded[2000 + start : 2000 + start + count].astype(np.float32).tolist()


def test_facts_are_those_of_the_sound_as_recorded() -> None:
    samples = np.array([0.0, 0.5, -1.0, 1.0, 0.25, -0.25, 0.0, 0.0] * 1000)
    with copy_of(samples, 48_000.0) as copy:
        assert copy.facts.peak == 1.0
        assert copy.facts.clipped_fraction == 0.25
        assert copy.duration_s == pytest.approx(8000 / 48_000, abs=1 / 4000)


def test_long_sound_goes_to_a_file_and_comes_back() -> None:
    """More than is kept in memory: 16 MB are 4 million samples."""

    def blocks() -> Iterator[SampleBlock]:
        for index in range(45):
            yield np.full(100_000, index, dtype=np.float32) / np.float32(100.0)

    sound = Sound(sample_rate_hz=4000.0, frame_count=4_500_000, read_blocks=blocks)
    seen: list[float] = []
    with WorkingCopy(sound, seen.append) as copy:
        assert copy.frame_count == 4_500_000
        assert copy.read(4_450_000, 1)[0] == np.float32(44 / 100)
        assert copy.read(99_999, 2).tolist() == [0.0, np.float32(0.01)]
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


def test_a_reader_that_fails_is_not_hidden() -> None:
    def blocks() -> Iterator[SampleBlock]:
        yield np.zeros(10, dtype=np.float32)
        raise DriveError("cannot be read further")

    sound = Sound(sample_rate_hz=4000.0, frame_count=20, read_blocks=blocks)
    with pytest.raises(DriveError, match="cannot be read further"):
        WorkingCopy(sound, lambda part: None)


def test_a_full_folder_for_temporary_files_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full(io.BytesIO):
        def write(self, data: object) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(working_copy, "SpooledTemporaryFile", lambda max_size: Full())
    sound = Sound.from_array(np.zeros(48_000), 48_000.0)
    with pytest.raises(DriveError, match=r"the folder for temporary files, .* holds no more"):
        WorkingCopy(sound, lambda part: None)
