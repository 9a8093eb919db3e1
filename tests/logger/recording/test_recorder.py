"""Recording: what is on the disk at every moment, and what is told when something fails."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from logger.clock_watch import Clocks
from logger.errors import DeviceError, SessionError
from logger.microphone import SoundBlock
from logger.session import read_session
from logger.sources.contract import SourceTrouble
from logger.sources.pulse import PulseSource
from logger.status import Light, Status
from logger.wav_writer import WavWriter
from tests.logger.recording.scripted import (
    BLOCK,
    LSB_24,
    RATE_HZ,
    START_S,
    Clock,
    ScriptedSound,
    ScriptedSource,
    blocks_of,
    noise,
    record,
    rpm,
)


def codes(path: Path) -> list[str]:
    return [one.code for one in read_session(path).metadata.trouble]


# --- sound --------------------------------------------------------------------------------------


def test_session_holds_exactly_what_came(tmp_path: Path) -> None:
    samples = noise(3 * RATE_HZ)
    seen: list[Status] = []
    sound = ScriptedSound(blocks_of(samples))
    recorded = record(sound, tmp_path / "drive", seconds=2.55, show=seen.append)
    session = read_session(tmp_path / "drive")
    read, _ = soundfile.read(tmp_path / "drive" / "audio.wav", dtype="float64", always_2d=True)
    kept = round(2.55 * RATE_HZ)
    assert (session.frame_count, session.channel_count) == (kept, 1)
    np.testing.assert_allclose(read, samples[:kept], rtol=0, atol=0.5 * LSB_24)
    assert recorded.duration_s == pytest.approx(2.55)
    assert (recorded.trouble, session.metadata.trouble) == ((), ())
    assert len(seen) == pytest.approx(2.55 / 0.5, abs=1)  # two a second
    assert sound.open_count == 0


def test_status_tells_the_level_of_a_sine(tmp_path: Path) -> None:
    # AES17: the level of a sine of half the full scale is -6.02 dB.
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    sine = (0.5 * np.sin(2.0 * np.pi * 100.0 * time_s)).astype(np.float32)[:, np.newaxis]
    seen: list[Status] = []
    record(ScriptedSound(blocks_of(sine)), tmp_path / "drive", seconds=2.0, show=seen.append)
    assert seen[1].level_db == pytest.approx(20.0 * math.log10(0.5), abs=0.01)
    assert seen[1].peak_db == pytest.approx(20.0 * math.log10(0.5), abs=0.01)
    assert seen[1].level_unit == "dB re full scale"
    assert not seen[1].is_too_loud


def test_stopping_saves(tmp_path: Path) -> None:
    answers = iter([False] * 12 + [True])
    sound = ScriptedSound(blocks_of(noise(3 * RATE_HZ)))
    recorded = record(sound, tmp_path / "drive", stopped=lambda: next(answers))
    assert recorded.duration_s == pytest.approx(1.2)
    assert read_session(tmp_path / "drive").frame_count == 12 * BLOCK


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
    assert codes(tmp_path / "drive") == ["microphone_lost"]
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


def test_all_zero_sound_is_called_out(tmp_path: Path) -> None:
    silence = np.zeros((RATE_HZ, 1), dtype=np.float32)
    recorded = record(ScriptedSound(blocks_of(silence)), tmp_path / "drive", seconds=1.0)
    assert [one.code for one in recorded.trouble] == ["no_signal"]


# --- readings -----------------------------------------------------------------------------------


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

    readings = [rpm(2000.0, at_s / fast) for at_s in (10.0, 300.0, 590.0)]
    sound = FastSound([block for block in blocks_of(noise(RATE_HZ)) for _ in range(600)])
    record(sound, tmp_path / "drive", ScriptedSource(*readings), seconds=599.0)
    session = read_session(tmp_path / "drive")
    assert session.metadata.sound_fast_ppm == pytest.approx(125.0, abs=0.1)
    assert session.telemetry["time_s"].tolist() == pytest.approx([10.0, 300.0, 590.0], abs=1e-4)


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


def test_marks_are_kept(tmp_path: Path) -> None:
    answers = iter([False] * 20 + [True] + [False] * 100)
    sound = ScriptedSound(blocks_of(noise(4 * RATE_HZ)))
    record(sound, tmp_path / "drive", seconds=3.0, mark_asked=lambda: next(answers))
    assert read_session(tmp_path / "drive").metadata.marks_s == pytest.approx((2.1,))


# --- the computer -------------------------------------------------------------------------------


def clocks_with(
    clock: Clock, *, asleep_s: float = 0.0, set_s: float = 0.0, at_s: float = 2.0
) -> Callable[[], Clocks]:
    """Clocks of a laptop that slept, or whose wall clock was set, after 2 s of recording."""

    def read() -> Clocks:
        since = clock.now_s > START_S + 2.0
        return Clocks(
            perf_s=clock.now_s,
            awake_or_asleep_s=clock.now_s + since * asleep_s,
            wall_s=clock.now_s + since * (asleep_s + set_s),
        )

    return read


@pytest.mark.parametrize(
    ("asleep_s", "set_s", "code"),
    [(60.0, 0.0, "laptop_slept"), (0.0, -3600.0, "wall_clock_changed")],
)
def test_sleep_and_a_set_clock_are_told(
    tmp_path: Path, asleep_s: float, set_s: float, code: str
) -> None:
    sound = ScriptedSound(blocks_of(noise(6 * RATE_HZ)))
    readings = [rpm(1500.0, number / 10) for number in range(59)]
    recorded = record(
        sound,
        tmp_path / "drive",
        ScriptedSource(*readings),
        seconds=6.0,
        read_clocks=clocks_with(sound.clock, asleep_s=asleep_s, set_s=set_s),
    )
    (trouble,) = recorded.trouble
    assert trouble.code == code
    assert trouble.duration_s == (pytest.approx(asleep_s) if asleep_s else None)
    assert trouble.start_s == pytest.approx(2.0, abs=1.1)
    assert recorded.duration_s == pytest.approx(6.0)
    steps_s = np.diff(read_session(tmp_path / "drive").telemetry["time_s"])
    np.testing.assert_allclose(steps_s, 0.1, atol=1e-4)


def test_sleep_that_the_clock_counts_is_a_gap(tmp_path: Path) -> None:
    # As on Windows: the clock of the program goes on while the laptop sleeps.
    script = blocks_of(noise(10 * RATE_HZ))
    script[50:50] = [60.0]
    recorded = record(ScriptedSound(script), tmp_path / "drive", seconds=70.0)
    assert {one.code for one in recorded.trouble} == {"stood_still", "sound_lost"}
    assert recorded.duration_s == pytest.approx(70.0, abs=0.01)


def test_full_disk_keeps_all_but_the_last_second_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = WavWriter.write

    def until_full(self: WavWriter, samples: np.ndarray) -> None:
        if self.frame_count >= 4.5 * RATE_HZ:
            raise OSError(errno.ENOSPC, "No space left on device")
        write(self, samples)

    monkeypatch.setattr(WavWriter, "write", until_full)
    readings = [rpm(1500.0, number / 10) for number in range(45)]
    sound = ScriptedSound(blocks_of(noise(9 * RATE_HZ)))
    with pytest.raises(DeviceError, match="No space left"):
        record(sound, tmp_path / "drive", ScriptedSource(*readings))
    session = read_session(tmp_path / "drive")
    assert 3.5 * RATE_HZ <= session.frame_count <= 4.5 * RATE_HZ
    assert [one.code for one in session.metadata.trouble] == ["disk_full"]
    assert len(session.telemetry.index) >= 35


# --- beginnings ---------------------------------------------------------------------------------


def test_existing_folder_is_refused_and_untouched(tmp_path: Path) -> None:
    (tmp_path / "drive").mkdir()
    (tmp_path / "drive" / "audio.wav").write_bytes(b"mine")
    with pytest.raises(SessionError, match="exists already"):
        record(ScriptedSound(blocks_of(noise(BLOCK))), tmp_path / "drive")
    assert [path.name for path in (tmp_path / "drive").iterdir()] == ["audio.wav"]
    assert (tmp_path / "drive" / "audio.wav").read_bytes() == b"mine"


def test_nothing_is_left_when_no_sound_comes(tmp_path: Path) -> None:
    with pytest.raises(DeviceError, match="no sound came"):
        record(ScriptedSound([]), tmp_path / "drive", ScriptedSource(rpm(900.0, 1.0)))
    assert list(tmp_path.iterdir()) == []


def test_stopped_before_any_sound_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        record(ScriptedSound([]), tmp_path / "drive", stopped=lambda: True)
    assert list(tmp_path.iterdir()) == []


def test_session_json_of_a_recording_is_plain_json(tmp_path: Path) -> None:
    record(ScriptedSound(blocks_of(noise(RATE_HZ))), tmp_path / "drive", seconds=0.5)
    stored = json.loads((tmp_path / "drive" / "session.json").read_text(encoding="utf-8"))
    assert (stored["name"], stored["state"]) == ("drive", "complete")


def test_level_is_that_of_the_cabin_and_not_of_the_ignition_beside_it(tmp_path: Path) -> None:
    cabin = np.full((4 * RATE_HZ, 1), 0.01, dtype=np.float32)
    sparks = np.ones((4 * RATE_HZ, 1), dtype=np.float32)
    sound = ScriptedSound(blocks_of(np.hstack([cabin, sparks])), channel_count=2)
    seen: list[Status] = []
    record(sound, tmp_path / "drive", PulseSource("2@0.5"), seconds=3.0, show=seen.append)
    assert seen[-1].peak_db == pytest.approx(20.0 * math.log10(0.01), abs=0.01)
    assert not seen[-1].is_too_loud


def test_silent_microphone_is_called_out_although_the_ignition_is_heard(tmp_path: Path) -> None:
    silence = np.zeros((2 * RATE_HZ, 1), dtype=np.float32)
    sound = ScriptedSound(blocks_of(np.hstack([silence, noise(2 * RATE_HZ)])), channel_count=2)
    recorded = record(sound, tmp_path / "drive", PulseSource("2@0.5"), seconds=2.0)
    assert "no_signal" in [one.code for one in recorded.trouble]
