"""Engine speed between telemetry rows, and on the sound's clock."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.find.sound.speed_track import SpeedTrack, gaps_between, shifted, track_from_rows


def rows_of(time_s: list[float], rpm: list[float]) -> pd.DataFrame:
    return pd.DataFrame({"time_s": time_s, "rpm": rpm})


def test_straight_lines_between_rows_and_nothing_outside() -> None:
    track = track_from_rows(rows_of([1.0, 2.0, 4.0], [1000.0, 2000.0, 1000.0]))
    at = track.at(np.array([0.9, 1.0, 1.25, 2.5, 3.99, 4.1]))
    assert at[1:5] == pytest.approx([1000.0, 1250.0, 1750.0, 1005.0])
    assert np.isnan(at[[0, 5]]).all()


def test_rows_without_a_possible_speed_are_passed_over() -> None:
    track = track_from_rows(
        rows_of(
            [0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 5.5],
            [900.0, 900.0, 900.0, 0.0, np.nan, 16_383.75, 900.0, 900.0],
        )
    )
    assert np.isnan(track.at(np.array([1.5, 3.0, 4.5]))).all()  # without a row for 4 s: a gap
    track = track_from_rows(rows_of([0.0, 1.0, 2.0], [1000.0, 0.0, 3000.0]))
    assert track.at(np.array([1.0])) == pytest.approx([2000.0])


def test_a_gap_is_longer_than_three_seconds_and_than_five_usual_steps() -> None:
    assert gaps_between(np.array([0.0, 1.0, 2.0, 5.0, 6.0])) == []
    assert gaps_between(np.array([0.0, 0.1, 0.2, 3.3, 3.4])) == [(0.2, 3.3)]
    assert gaps_between(np.arange(0.0, 40.0, 4.0)) == []
    assert gaps_between(np.array([0.0, 2.0, 4.0, 6.0, 15.9, 17.9])) == []


@given(st.floats(0.0, 3.0), st.floats(300.0, 9000.0))
def test_turns_of_a_steady_engine(seconds: float, rpm: float) -> None:
    track = track_from_rows(rows_of([0.0, 5.0], [rpm, rpm]))
    turns = np.interp(seconds, track.time_s, track.revolutions)
    assert turns == pytest.approx(rpm / 60.0 * seconds, abs=1e-9 * rpm)


def test_turns_of_a_ramp_and_over_a_gap() -> None:
    ramp = track_from_rows(rows_of([0.0, 2.0], [600.0, 1800.0]))
    assert ramp.revolutions[-1] == pytest.approx(2.0 * 1200.0 / 60.0)
    gap = track_from_rows(rows_of([0.0, 1.0, 9.0, 10.0], [600.0] * 4))
    assert gap.revolutions[-1] == pytest.approx(20.0, abs=0.5)


@given(st.floats(-30.0, 30.0), st.floats(-300.0, 300.0), st.floats(0.0, 100.0))
def test_a_late_row_is_moved_to_when_the_engine_was_there(
    delay_s: float, drift_ppm: float, sound_s: float
) -> None:
    """A row stamped t + delay + drift belongs to t; the rows' rpm is their own time stamp."""
    stamps = np.arange(-40.0, 141.0)
    rows = SpeedTrack(start_s=-40.0, step_s=1.0, rpm=1000.0 + stamps)
    track = shifted(rows, delay_s, drift_ppm, 100.0)
    expected = 1000.0 + sound_s + delay_s + 1e-6 * drift_ppm * (sound_s - 50.0)
    got = track.at(np.array([sound_s]))[0]
    if sound_s <= track.time_s[-1] - track.step_s:
        assert got == pytest.approx(expected, abs=1e-6)
