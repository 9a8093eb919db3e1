"""Engine speed from the sound beats the telemetry it started from."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import SpeedTrack, shifted, track_from_rows
from analysis.find.speed.order_phase import speed_by_phase
from analysis.find.speed.refinement import refined_speed
from tests.analysis.made_drives import copy_of, orders_sound, rows, true_track, wandering


def relative_error(track: SpeedTrack, truth: FloatArray) -> FloatArray:
    """Over the middle of the drive, each 0.1 s."""
    time_s = np.arange(5.0, 0.00025 * truth.size - 5.0, 0.1)
    return track.at(time_s) / true_track(truth).at(time_s) - 1.0


def error_of(track: SpeedTrack, truth: FloatArray) -> float:
    """Root mean square relative error."""
    return float(np.sqrt(np.mean(relative_error(track, truth) ** 2)))


def share_beyond(track: SpeedTrack, truth: FloatArray) -> float:
    """Share of the time with more than 0.3 % of error."""
    return float(np.mean(np.abs(relative_error(track, truth)) > 0.003))


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("noise", [0.02, 0.15])
def test_beats_rows_of_1_hz_rounded_to_25_rpm(seed: int, noise: float) -> None:
    rpm = wandering(80.0, seed)
    flutter = np.interp(
        np.arange(rpm.size) / 4000.0,
        np.arange(0.0, 82.0, 2.0),
        np.random.default_rng(seed).normal(size=41),
    )
    rpm = rpm * (1.0 + 0.005 * flutter)
    coarse = track_from_rows(rows(rpm, every_s=1.0, step_rpm=25.0))
    with copy_of(orders_sound(rpm, noise=noise)) as copy:
        coarse = shifted(coarse, 0.0, 0.0, copy.duration_s)
        refined, _ = speed_by_phase(copy, refined_speed(copy, coarse))
    # at a sharp bend a row a second can be off by more than is searched (4 %)
    assert error_of(refined, rpm) < 0.7 * error_of(coarse, rpm)
    assert share_beyond(refined, rpm) < 0.05
    assert share_beyond(coarse, rpm) > 0.15


def test_finds_an_engine_speed_that_is_wrong_throughout() -> None:
    rpm = wandering(80.0, 6)
    for error in (-0.03, 0.01, 0.03):
        with copy_of(orders_sound(rpm, noise=0.05)) as copy:
            refined = refined_speed(copy, true_track((1.0 + error) * rpm))
        assert error_of(refined, rpm) < 0.002


def test_keeps_good_telemetry_and_a_gap() -> None:
    rpm = wandering(60.0, 4)
    track = true_track(rpm)
    track.rpm[1000:1500] = np.nan
    with copy_of(orders_sound(rpm, noise=0.05)) as copy:
        refined = refined_speed(copy, track)
    assert np.array_equal(np.isnan(refined.rpm), np.isnan(track.rpm))
    known = np.isfinite(track.rpm)
    assert np.abs(refined.rpm[known] / track.rpm[known] - 1.0).mean() < 0.001


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_leaves_telemetry_nearly_alone_without_an_engine_to_hear(noise: float) -> None:
    rpm = wandering(60.0, 5)
    with copy_of(orders_sound(rpm, {}, noise=noise)) as copy:
        refined = refined_speed(copy, true_track(rpm))
    assert error_of(refined, rpm) < 0.02
