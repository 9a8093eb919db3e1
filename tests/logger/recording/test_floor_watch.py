"""A change of the sound within a moment is told; what engines, roads and people do is not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from logger.recording.floor_watch import FloorChange, FloorWatch
from tests.logger.recording.scripted import BLOCK, RATE_HZ, ScriptedSound, blocks_of, record

CHANGED_S = 12.0
DRIVE_S = 24.0
TIME_S = np.arange(round(DRIVE_S * RATE_HZ)) / RATE_HZ
AFTER = TIME_S >= CHANGED_S
FloatArray = NDArray[np.float64]


def below(sound: FloatArray, corner_hz: float) -> FloatArray:
    low_pass = butter(2, corner_hz, "lowpass", fs=RATE_HZ, output="sos")
    return np.asarray(sosfilt(low_pass, sound))


def cabin() -> FloatArray:
    """Noise as in a cabin, more of it below: a road."""
    white = np.random.default_rng(3).standard_normal(TIME_S.size)
    return 0.02 * (white + 10.0 * below(white, 150.0))


def told_of(sound: FloatArray, block: int = BLOCK) -> list[FloorChange]:
    watch = FloorWatch(RATE_HZ)
    ends = range(block, sound.size + 1, block)
    changes = [
        watch.note(sound[end - block : end, np.newaxis].astype(np.float32), end / RATE_HZ)
        for end in ends
    ]
    return [change for change in changes if change is not None]


def another_gain(sound: FloatArray) -> FloatArray:
    return np.where(AFTER, 0.25 * sound, sound)


def another_floor(sound: FloatArray) -> FloatArray:
    hiss = 0.2 * np.random.default_rng(4).standard_normal(sound.size)
    return sound + np.where(AFTER, hiss, 0.0)


def a_hand_on_it(sound: FloatArray) -> FloatArray:
    return np.where(AFTER, 1.5 * below(sound, 300.0), sound)


@pytest.mark.parametrize("change", [another_gain, another_floor, a_hand_on_it])
@pytest.mark.parametrize("block", [160, 960])
def test_change_is_told_once_with_its_moment(
    change: Callable[[FloatArray], FloatArray], block: int
) -> None:
    (told,) = told_of(change(cabin()), block)
    assert told.at_s == pytest.approx(CHANGED_S, abs=0.5)


def as_it_is(sound: FloatArray) -> FloatArray:
    return sound


def a_swell(sound: FloatArray) -> FloatArray:
    """20 dB more within ten seconds: a car that gathers speed."""
    return np.asarray(sound * 10.0 ** np.clip((TIME_S - 5.0) / 10.0, 0.0, 1.0))


def throttle(sound: FloatArray) -> FloatArray:
    """An engine under load: 15 dB more below 400 Hz, at once; common practice, no source."""
    return sound + np.where(AFTER, 5.0 * below(sound, 400.0), 0.0)


def clicks(sound: FloatArray) -> FloatArray:
    return np.where(TIME_S % 3.0 < 0.02, 20.0 * sound, sound)


def a_shout(sound: FloatArray) -> FloatArray:
    """1.5 s of loud sound at all pitches."""
    return np.where(AFTER & (TIME_S < CHANGED_S + 1.5), 10.0 * sound, sound)


@pytest.mark.parametrize("kind", [as_it_is, a_swell, throttle, clicks, a_shout])
def test_what_drives_do_is_not_told(kind: Callable[[FloatArray], FloatArray]) -> None:
    assert told_of(kind(cabin())) == []


def test_change_is_kept_with_the_session(tmp_path: Path) -> None:
    samples = another_gain(cabin()).astype(np.float32)[:, np.newaxis]
    recorded = record(ScriptedSound(blocks_of(samples)), tmp_path / "drive", seconds=DRIVE_S)
    (trouble,) = recorded.trouble
    assert trouble.code == "sound_changed"
    assert trouble.start_s == pytest.approx(CHANGED_S, abs=0.5)
    assert "-12 dB" in trouble.message
