"""The wide search for delay and drift, on a picture of an hour whose engine speed is known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.basics.arrays import FloatArray
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.speed.delay_picture import DelayEvidence
from analysis.find.speed.delay_search import rough_alignment
from analysis.find.speed.speed_lines import SPEED_RATIO

HOUR_S = 3600.0
PROMISED_S = 0.1  # as RoughAlignment says
LOWEST_RPM = 1000.0


def driven_rpm(time_s: FloatArray) -> FloatArray:
    """Engine speed that no shift by less than the search's reach makes alike again."""
    climbs = np.sin(time_s / 6.1) + np.sin(time_s / 13.7 + 1.0) + np.sin(time_s / 41.3 + 2.0)
    return np.asarray(2200.0 * np.exp(0.15 * climbs))


def picture() -> DelayEvidence:
    """Half a minute every five, in which the true speed alone stands out."""
    time_s = np.concatenate([start + np.arange(0.2, 29.8, 0.1) for start in range(0, 3600, 300)])
    speeds = LOWEST_RPM * SPEED_RATIO ** np.arange(400)
    off = np.log(speeds / driven_rpm(time_s)[:, np.newaxis]) / 0.02
    score = np.exp(-0.5 * off**2).astype(np.float32)
    return DelayEvidence(time_s=time_s, score=score, lowest_rpm=LOWEST_RPM)


def log_of(delay_s: float, drift_ppm: float) -> SpeedTrack:
    """Rows whose clock is late by ``delay_s`` in the middle of the hour, and runs too fast."""
    step_s = 0.05
    row_s = step_s * np.arange(HOUR_S / step_s)
    # row = t + delay + drift (t - half), solved for the moment t it was true
    sound_s = (row_s - delay_s + 0.5e-6 * drift_ppm * HOUR_S) / (1.0 + 1e-6 * drift_ppm)
    return SpeedTrack(start_s=0.0, step_s=step_s, rpm=driven_rpm(sound_s))


@pytest.mark.parametrize("drift_ppm", [-500.0, 0.0, 350.0])
def test_delay_of_the_middle_and_drift_of_both_ends(drift_ppm: float) -> None:
    found = rough_alignment(picture(), log_of(-12.0, drift_ppm), HOUR_S)
    assert found is not None
    assert found.delay_s == pytest.approx(-12.0, abs=PROMISED_S)
    at_the_ends_s = 1e-6 * (found.drift_ppm - drift_ppm) * 0.5 * HOUR_S
    assert abs(at_the_ends_s) <= PROMISED_S
