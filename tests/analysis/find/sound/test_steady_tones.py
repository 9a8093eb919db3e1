"""A hum is taken out of the sound; the engine's orders that cross it are left as they are."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.drive import Sound
from analysis.find.drone import find_drone
from analysis.find.sound.tone_removal import take_out
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import Findings, SteadyTone
from tests.drives import GeneratedDrive, generate, random_spec

RATE_HZ = 8000.0
TIME_S = np.arange(int(40.0 * RATE_HZ)) / RATE_HZ
TONE = SteadyTone(frequency_hz=120.0, low_rpm=900.0, high_rpm=3000.0, out_db=20.0)


def without(samples: NDArray[np.float64], *tones: SteadyTone) -> tuple[NDArray[np.float32], bool]:
    """The middle of the sound with the tones taken out, and whether any was."""
    sound = Sound.from_array(samples.astype(np.float32), RATE_HZ)
    with WorkingCopy(sound, lambda _: None) as copy:
        steady = take_out(copy, tones)
        first, last = (int(at_s * copy.sample_rate_hz) for at_s in (2.0, 38.0))
        return copy.read(first, last - first), bool(steady)


def test_a_hum_goes_down_by_forty_decibels_wherever_in_its_line_it_lies() -> None:
    for hz in (119.2, 120.0, 121.3):
        left, was_steady = without(0.1 * np.sin(2.0 * np.pi * hz * TIME_S), TONE)
        assert was_steady
        assert np.std(left) < 0.01 * 0.1 / np.sqrt(2.0)


def test_a_fan_that_wanders_by_a_fifth_of_a_hertz_goes_down_by_fifteen() -> None:
    turn = 2.0 * np.pi * (120.0 * TIME_S + 0.2 * 5.0 / np.pi * np.sin(2.0 * np.pi * TIME_S / 20.0))
    left, was_steady = without(0.1 * np.sin(turn), TONE)
    assert was_steady
    assert np.std(left) < 0.18 * 0.1 / np.sqrt(2.0)


def test_its_harmonics_go_with_it() -> None:
    hum = sum(0.1 / k * np.sin(2.0 * np.pi * 120.0 * k * TIME_S + k) for k in (1, 2, 3))
    left, _ = without(np.asarray(hum), TONE)
    assert np.std(left) < 0.02 * 0.1


def test_noise_is_no_tone() -> None:
    noise = np.random.default_rng(3).normal(0.0, 0.1, TIME_S.size)
    left, was_steady = without(noise, TONE)
    assert not was_steady
    assert np.std(left) > 0.01


def test_a_note_that_is_played_now_and_then_is_no_steady_tone() -> None:
    played = np.where(TIME_S % 2.0 < 1.5, 0.1, 0.0)
    _, was_steady = without(played * np.sin(2.0 * np.pi * 120.0 * TIME_S), TONE)
    assert not was_steady


def test_an_order_that_sweeps_across_keeps_its_level() -> None:
    """From 90 to 150 Hz in 40 s, as order 4 does at 22 rpm a second, over a hum half as loud."""
    sweep = 0.1 * np.sin(2.0 * np.pi * (90.0 * TIME_S + 0.75 * TIME_S**2))
    alone, _ = without(sweep)
    left, was_steady = without(sweep + 0.05 * np.sin(2.0 * np.pi * 120.0 * TIME_S), TONE)
    assert was_steady
    half_s = left.size // 72
    kept = [np.std(left[k : k + half_s]) for k in range(0, left.size - half_s, half_s)]
    meant = [np.std(alone[k : k + half_s]) for k in range(0, alone.size - half_s, half_s)]
    assert np.abs(20.0 * np.log10(np.array(kept) / np.array(meant))).max() < 1.0


@cache
def clean(seed: int) -> GeneratedDrive:
    return generate(random_spec(np.random.default_rng([7, seed]), bands=2), seed)


@cache
def found(seed: int, hum: float) -> Findings:
    """With a hum of 100 Hz and its harmonics, ``hum`` times as loud as all the rest."""
    drive = clean(seed)
    time_s = np.arange(drive.samples.size) / drive.sample_rate_hz
    size = hum * np.sqrt(2.0) * float(drive.samples.std())
    tone = sum(size / 2**k * np.sin(2.0 * np.pi * 100.0 * k * time_s + k) for k in (1, 2, 3))
    samples = (drive.samples + tone).astype(np.float32)
    return find_drone(replace(drive, samples=samples).drive())


@pytest.mark.parametrize("hum", [0.2, 0.8])
def test_a_hum_makes_no_drone_and_hides_none(hum: float) -> None:
    """Before it was taken out, the louder of these made eleven drones and hid the true ones."""
    with_hum, without_hum = found(2, hum), found(2, 0.0)
    assert [doubt.code for doubt in with_hum.warnings].count("steady_tone") == 1
    assert len(with_hum.bands) == len(without_hum.bands) > 0
    for heard, meant in zip(with_hum.bands, without_hum.bands, strict=True):
        assert heard.engine_order == meant.engine_order
        assert heard.peak_hz == pytest.approx(meant.peak_hz, rel=0.01)


def test_a_drive_without_a_hum_is_told_of_none() -> None:
    assert "steady_tone" not in [doubt.code for doubt in found(2, 0.0).warnings]
