"""Recording: where the readings of the sources stand, and what is told when a source fails."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from logger.microphone.contract import SoundBlock
from logger.recording.status import Light, Status
from logger.session import read_session
from logger.sources.contract import SourceTrouble
from tests.logger.recording.scripted import (
    RATE_HZ,
    START_S,
    ScriptedSound,
    ScriptedSource,
    blocks_of,
    noise,
    record,
    rpm,
)


def test_readings_stand_at_the_middle_of_question_and_answer(tmp_path: Path) -> None:
    readings = [rpm(1500.0, 0.5, round_trip_s=0.1), rpm(1510.0, 1.0, round_trip_s=0.04)]
    sound = ScriptedSound(blocks_of(noise(2 * RATE_HZ)))
    recorded = record(sound, tmp_path / "drive", ScriptedSource(*readings), seconds=2.0)
    session = read_session(tmp_path / "drive")
    assert recorded.reading_count == 2
    assert session.telemetry["time_s"].tolist() == pytest.approx([0.5, 1.0], abs=1e-5)
    assert session.telemetry["rpm"].tolist() == [1500.0, 1510.0]
    text = (tmp_path / "drive" / "telemetry.csv").read_text(encoding="utf-8")
    header, first, second = text.splitlines()
    assert header.startswith("time_s,rpm,")
    assert [float(line.rpartition(",")[2]) for line in (first, second)] == pytest.approx(
        [0.05, 0.02]
    )


def test_two_sources_are_one_table_in_order_of_time(tmp_path: Path) -> None:
    one = ScriptedSource(rpm(1500.0, 1.0), rpm(1700.0, 1.5))
    speed = replace(rpm(20.0, 1.2), quantity="road_speed_m_s")
    other = ScriptedSource(speed, name="box:2")
    sound = ScriptedSound(blocks_of(noise(2 * RATE_HZ)))
    record(sound, tmp_path / "drive", one, other, seconds=2.0)
    frame = read_session(tmp_path / "drive").telemetry
    assert frame["time_s"].tolist() == pytest.approx([1.0, 1.2, 1.5], abs=1e-5)
    np.testing.assert_array_equal(frame["rpm"], [1500.0, np.nan, 1700.0])
    np.testing.assert_array_equal(frame["road_speed_m_s"], [np.nan, 20.0, np.nan])


def test_reading_out_of_the_sound_stands_at_its_frame_also_behind_a_gap(tmp_path: Path) -> None:
    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [1.0]
    before = replace(rpm(1500.0, 9.0), frame=4.0 * RATE_HZ)
    after = replace(rpm(1600.0, 9.0), frame=6.0 * RATE_HZ)
    record(ScriptedSound(script), tmp_path / "drive", ScriptedSource(before, after), seconds=11.0)
    times_s = read_session(tmp_path / "drive").telemetry["time_s"].tolist()
    assert times_s == pytest.approx([4.0, 7.0], abs=1e-5)


def test_drift_of_the_sound_card_is_measured_and_taken_out_of_the_readings(tmp_path: Path) -> None:
    # The card makes 8001 frames in a second of the computer, 125 ppm too many.
    fast = 1.000125

    class FastSound(ScriptedSound):
        def next_block(self) -> SoundBlock | None:
            block = super().next_block()
            elapsed_s = (self.clock.now_s - START_S) / fast
            return replace(block, arrived_s=START_S + elapsed_s) if block else None

    readings = [rpm(2000.0, at_s / fast) for at_s in (10.0, 75.0, 149.0)]
    sound = FastSound([block for block in blocks_of(noise(RATE_HZ)) for _ in range(150)])
    record(sound, tmp_path / "drive", ScriptedSource(*readings), seconds=149.5)
    session = read_session(tmp_path / "drive")
    assert session.metadata.sound_fast_ppm == pytest.approx(125.0, abs=0.1)
    assert session.telemetry["time_s"].tolist() == pytest.approx([10.0, 75.0, 149.0], abs=1e-4)


def test_pace_that_no_sound_card_has_is_trouble_and_not_its_drift(tmp_path: Path) -> None:
    class LeakySound(ScriptedSound):
        def next_block(self) -> SoundBlock | None:
            self.clock.now_s += 0.045 * (len(self.script) % 120 == 0)  # lost, and not seen
            return super().next_block()

    script = blocks_of(noise(RATE_HZ)) * 100
    readings = [rpm(2000.0, at_s) for at_s in (50.0, 90.0)]
    recorded = record(LeakySound(script), tmp_path / "drive", ScriptedSource(*readings), seconds=99)
    session = read_session(tmp_path / "drive")
    assert session.metadata.sound_fast_ppm is None
    assert [one.code for one in recorded.trouble] == ["sound_pace"]
    assert "0.37 % of the sound is missing" in recorded.trouble[0].message
    # readings still stand at the sound they belong to: 4 and 8 pieces were lost before them
    times_s = session.telemetry["time_s"].tolist()
    assert times_s == pytest.approx([50.0 - 0.045 * 4, 90.0 - 0.045 * 8], abs=0.05)


def test_trouble_of_a_source_lasts_until_its_next_reading(tmp_path: Path) -> None:
    lost = SourceTrouble(code="telemetry_lost", message="lost", at_s=START_S + 1.0)
    source = ScriptedSource(rpm(1500.0, 0.5), lost, rpm(1500.0, 4.5), rpm(1500.0, 5.0))
    recorded = record(
        ScriptedSound(blocks_of(noise(6 * RATE_HZ))), tmp_path / "drive", source, seconds=6.0
    )
    (trouble,) = recorded.trouble
    assert (trouble.code, trouble.message) == ("telemetry_lost", "lost")
    assert (trouble.start_s, trouble.duration_s) == pytest.approx((1.0, 3.5), abs=1e-5)
    assert source.close_count == 1


def test_source_that_breaks_down_is_told_and_the_sound_goes_on(tmp_path: Path) -> None:
    source = ScriptedSource(rpm(1500.0, 0.5), ZeroDivisionError("by its maker"))
    seen: list[Status] = []
    sound = ScriptedSound(blocks_of(noise(6 * RATE_HZ)))
    recorded = record(sound, tmp_path / "drive", source, seconds=6.0, show=seen.append)
    assert [one.code for one in recorded.trouble] == ["source_ended"]
    assert "ZeroDivisionError" in recorded.trouble[0].message
    assert recorded.duration_s == pytest.approx(6.0)
    assert seen[-1].devices[1].light is Light.LOST
    assert "broke down" in seen[-1].devices[1].words


def test_status_forgets_an_old_rpm(tmp_path: Path) -> None:
    seen: list[Status] = []
    sound = ScriptedSound(blocks_of(noise(10 * RATE_HZ)))
    record(
        sound, tmp_path / "drive", ScriptedSource(rpm(1500.0, 5.0)), seconds=9.0, show=seen.append
    )
    assert [s.rpm for s in seen if 5.5 < s.elapsed_s < 6.5] != []
    assert {s.rpm for s in seen if 5.5 < s.elapsed_s < 6.5} == {1500.0}
    assert {s.rpm for s in seen if s.elapsed_s > 7.5} == {None}
