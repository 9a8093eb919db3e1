"""Recording while sound is lost, late, or the microphone gone: gaps with place and length."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from logger.microphone.contract import SoundBlock
from logger.recording.status import Status
from logger.session import read_session
from tests.logger.recording.scripted import (
    BLOCK,
    LSB_24,
    RATE_HZ,
    START_S,
    LiveSound,
    ScriptedSound,
    ScriptedSource,
    blocks_of,
    noise,
    record,
    rpm,
)


def test_lost_sound_is_a_gap_with_place_and_length(tmp_path: Path) -> None:
    samples = noise(10 * RATE_HZ)
    script = blocks_of(samples)
    script[50:50] = [0.3]  # a pause of 0.3 s whose sound never comes
    recorded = record(ScriptedSound(script), tmp_path / "drive", seconds=10.3)
    (trouble,) = recorded.trouble
    assert trouble.code == "sound_lost"
    assert trouble.duration_s == pytest.approx(0.3, abs=0.001)
    assert trouble.start_s == pytest.approx(5.0, abs=0.001)
    session = read_session(tmp_path / "drive")
    assert session.metadata.trouble == recorded.trouble
    assert session.frame_count == 10 * RATE_HZ  # nothing was invented
    sound = session.drive().sound
    assert sound is not None
    assert sound.gaps_s[0] == pytest.approx((5.0, 5.3), abs=0.001)
    heard = np.concatenate(list(sound.read_blocks()))
    assert heard.size == sound.frame_count == round(10.3 * RATE_HZ)
    gap = slice(5 * RATE_HZ, round(5.3 * RATE_HZ))
    assert not heard[gap].any()
    np.testing.assert_allclose(heard[gap.stop :], samples[gap.start :, 0], rtol=0, atol=LSB_24)


def test_microphone_that_comes_back_leaves_a_gap_and_the_readings_go_on(tmp_path: Path) -> None:
    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [0.5] * 40  # 20 s without sound
    readings = [rpm(1000.0 + number, 0.1 + number) for number in range(29)]
    recorded = record(
        ScriptedSound(script), tmp_path / "drive", ScriptedSource(*readings), seconds=30.0
    )
    (trouble,) = recorded.trouble
    assert (trouble.code, recorded.sound_lost) == ("microphone_lost", False)
    assert trouble.start_s == pytest.approx(5.0, abs=0.001)
    assert trouble.duration_s == pytest.approx(20.0, abs=0.001)
    session = read_session(tmp_path / "drive")
    np.testing.assert_allclose(
        session.telemetry["time_s"], [reading.midpoint_s - START_S for reading in readings]
    )
    assert session.frame_count == 10 * RATE_HZ


def test_microphone_that_stays_away_does_not_end_the_readings(tmp_path: Path) -> None:
    readings = [rpm(2000.0, float(number)) for number in range(9)]
    sound = ScriptedSound(blocks_of(noise(RATE_HZ)))
    recorded = record(sound, tmp_path / "drive", ScriptedSource(*readings), seconds=10.0)
    assert recorded.sound_lost
    assert [one.code for one in read_session(tmp_path / "drive").metadata.trouble] == [
        "microphone_lost"
    ]
    assert len(read_session(tmp_path / "drive").telemetry.index) == 9
    assert sound.clock.now_s == pytest.approx(START_S + 10.0, abs=0.6)


def test_microphone_that_is_back_but_refuses_has_words_of_its_own(tmp_path: Path) -> None:
    class ChangedSound(ScriptedSound):
        def next_block(self) -> SoundBlock | None:
            self.refusal = "set it to 8000 Hz" if 10.0 < self.clock.now_s - START_S < 20.0 else ""
            return super().next_block()

    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [0.5] * 40
    recorded = record(ChangedSound(script), tmp_path / "drive", seconds=30.0)
    lost, refused = recorded.trouble
    assert (lost.code, refused.code) == ("microphone_lost", "microphone_refused")
    assert refused.message == "set it to 8000 Hz"
    assert refused.start_s == pytest.approx(10.5, abs=0.6)
    assert refused.duration_s == pytest.approx(14.5, abs=0.6)
    assert lost.duration_s is not None
    assert refused.duration_s is not None
    assert lost.duration_s + refused.duration_s == pytest.approx(20.0, abs=0.001)


def test_loss_in_the_last_second_is_a_gap_too(tmp_path: Path) -> None:
    script = blocks_of(noise(5 * RATE_HZ))
    script[45:45] = [9.0]
    after = replace(rpm(1600.0, 9.0), frame=4.7 * RATE_HZ)
    sound = ScriptedSound(script)
    recorded = record(
        sound, tmp_path / "drive", ScriptedSource(after), stopped=lambda: not sound.script
    )
    (gap,) = read_session(tmp_path / "drive").metadata.sound_gaps
    assert (float(gap.after_frame), gap.duration_s) == pytest.approx((45.0 * BLOCK, 9.0))
    assert "sound_lost" in [one.code for one in recorded.trouble]
    assert recorded.duration_s == pytest.approx(14.0)
    times_s = read_session(tmp_path / "drive").telemetry["time_s"].tolist()
    assert times_s == pytest.approx([13.7], abs=1e-5)


def test_microphone_that_is_back_for_a_moment_only_leaves_two_gaps(tmp_path: Path) -> None:
    script = blocks_of(noise(3 * RATE_HZ))
    script[25:25] = [0.5] * 20  # away for 10 s
    script[23:23] = [0.5] * 10  # away for 5 s, then back for 0.2 s
    sound = ScriptedSound(script)
    recorded = record(sound, tmp_path / "drive", stopped=lambda: not sound.script)
    gaps = read_session(tmp_path / "drive").metadata.sound_gaps
    assert [gap.after_frame for gap in gaps] == [23 * BLOCK, 25 * BLOCK]
    assert [gap.duration_s for gap in gaps] == pytest.approx([5.0, 10.0])
    assert [one.code for one in recorded.trouble] == ["microphone_lost"] * 2
    spans_s = [(one.start_s, one.duration_s) for one in recorded.trouble]
    assert spans_s == [pytest.approx((2.3, 5.0)), pytest.approx((7.5, 10.0))]


def test_small_loss_that_the_driver_flags_is_told(tmp_path: Path) -> None:
    class FlaggedSound(ScriptedSound):
        def next_block(self) -> SoundBlock | None:
            block = super().next_block()
            return replace(block, is_flagged=len(self.script) == 49) if block else None

    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [0.04]
    recorded = record(FlaggedSound(script), tmp_path / "drive", seconds=10.0)
    (trouble,) = recorded.trouble
    assert trouble.code == "sound_lost"
    assert (trouble.start_s, trouble.duration_s) == pytest.approx((5.0, 0.04), abs=0.001)


def test_sound_that_was_only_late_is_no_gap_and_its_trouble_ends(tmp_path: Path) -> None:
    sound = LiveSound([])
    sound.held = (5.0, 8.5)
    seen: list[Status] = []
    recorded = record(sound, tmp_path / "drive", seconds=20.0, show=seen.append)
    assert read_session(tmp_path / "drive").metadata.sound_gaps == ()
    (trouble,) = recorded.trouble
    assert trouble.code == "microphone_lost"
    assert (trouble.start_s, trouble.duration_s) == pytest.approx((5.0, 3.5), abs=0.3)
    assert seen[-1].devices[0].words == ""


class RepeatingSound(LiveSound):
    """Gives six blocks more than time went by, all at once, after twelve seconds."""

    _repeats = 6

    def next_block(self) -> SoundBlock | None:
        if self._taken == 120 and self._repeats:
            self._repeats -= 1
            return SoundBlock(samples=noise(BLOCK), arrived_s=self.clock.now_s)
        return super().next_block()


def test_sound_that_is_given_twice_is_left_out_and_told(tmp_path: Path) -> None:
    """As a sound server does when a stream is moved back; all after it came 0.6 s too late."""
    source = ScriptedSource(rpm(2000.0, 15.0), rpm(2100.0, 16.0))
    recorded = record(RepeatingSound([]), tmp_path / "drive", source, seconds=20.0)
    (trouble,) = recorded.trouble
    assert trouble.code == "sound_repeated"
    assert "600 ms" in trouble.message
    assert trouble.start_s == pytest.approx(12.0, abs=0.2)
    session = read_session(tmp_path / "drive")
    assert session.frame_count == 20 * RATE_HZ
    np.testing.assert_allclose(session.telemetry["time_s"], [15.0, 16.0], atol=0.001)
    assert session.metadata.sound_gaps == ()
