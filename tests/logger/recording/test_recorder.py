"""Recording: what is on the disk at every moment, and what is told when something fails."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import json
import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

import logger.atomic
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
    LiveSound,
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


def test_all_zero_sound_is_called_out(tmp_path: Path) -> None:
    silence = np.zeros((RATE_HZ, 1), dtype=np.float32)
    recorded = record(ScriptedSound(blocks_of(silence)), tmp_path / "drive", seconds=1.0)
    assert [one.code for one in recorded.trouble] == ["no_signal"]


# --- a slow disk --------------------------------------------------------------------------------


def stall(
    monkeypatch: pytest.MonkeyPatch, clock: Clock, at_s: float, stall_s: float, write_s: float = 0.0
) -> None:
    """Let the disk take ``stall_s`` for one sync, and from then on ``write_s`` for each block."""
    sync, write = WavWriter.sync, WavWriter.write
    was: list[float] = []

    def slow_sync(self: WavWriter) -> None:
        if not was and clock.now_s >= START_S + at_s:
            clock.now_s += stall_s
            was.append(stall_s)
        sync(self)

    def slow_write(self: WavWriter, samples: np.ndarray) -> None:
        clock.now_s += write_s if was else 0.0
        write(self, samples)

    monkeypatch.setattr(WavWriter, "sync", slow_sync)
    monkeypatch.setattr(WavWriter, "write", slow_write)


def test_sound_that_a_slow_disk_held_up_is_saved_when_somebody_stops(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound = LiveSound([])
    stall(monkeypatch, sound.clock, 2.0, 4.5)
    stopped_s = START_S + 5.0  # while the disk stands still
    recorded = record(sound, tmp_path / "drive", stopped=lambda: sound.clock.now_s >= stopped_s)
    assert recorded.duration_s == pytest.approx(2.0 + 4.5, abs=0.2)
    assert recorded.trouble == ()


@pytest.mark.parametrize("write_s", [0.0, 0.09])
def test_slow_disk_is_no_lost_microphone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, write_s: float
) -> None:
    sound = LiveSound([])
    stall(monkeypatch, sound.clock, 2.0, 4.5, write_s)
    recorded = record(sound, tmp_path / "drive", seconds=30.0)
    assert recorded.trouble == ()


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


def test_pace_that_no_sound_card_has_is_trouble_and_not_its_drift(tmp_path: Path) -> None:
    class LeakySound(ScriptedSound):
        def next_block(self) -> SoundBlock | None:
            self.clock.now_s += 0.045 * (len(self.script) % 120 == 0)  # lost, and not seen
            return super().next_block()

    script = blocks_of(noise(RATE_HZ)) * 200
    readings = [rpm(2000.0, at_s) for at_s in (50.0, 150.0)]
    recorded = record(
        LeakySound(script), tmp_path / "drive", ScriptedSource(*readings), seconds=199
    )
    session = read_session(tmp_path / "drive")
    assert session.metadata.sound_fast_ppm is None
    assert [one.code for one in recorded.trouble] == ["sound_pace"]
    assert "0.37 % of the sound is missing" in recorded.trouble[0].message
    # readings still stand at the sound they belong to: 16 and 12 pieces were lost before them
    times_s = session.telemetry["time_s"].tolist()
    assert times_s == pytest.approx([50.0 - 0.045 * 4, 150.0 - 0.045 * 12], abs=0.05)


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


def full_at_the_end(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Let there be no room to write this file, whole or for the last time."""

    def refuse(path: Path, pieces: Iterable[bytes]) -> None:
        if path.name != f".{name}.part":
            return write_synced(path, pieces)
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    def refuse_sync(self: WavWriter) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    def close(self: WavWriter) -> None:
        monkeypatch.setattr(WavWriter, "sync", refuse_sync)
        close_whole(self)

    write_synced, close_whole = logger.atomic.write_synced, WavWriter.close
    monkeypatch.setattr("logger.atomic.write_synced", refuse)
    if name == "audio.wav":
        monkeypatch.setattr(WavWriter, "close", close)


@pytest.mark.parametrize("name", ["audio.wav", "telemetry.csv"])
def test_disk_that_is_full_at_the_very_end_is_told_and_nothing_half_written_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    full_at_the_end(monkeypatch, name)
    readings = [rpm(1500.0, number / 10) for number in range(45)]
    sound = ScriptedSound(blocks_of(noise(9 * RATE_HZ)))
    with pytest.raises(DeviceError, match="No space left"):
        record(sound, tmp_path / "drive", ScriptedSource(*readings), seconds=5.5)
    names = sorted(path.name for path in (tmp_path / "drive").iterdir())
    assert names == ["audio.wav", "session.json", "telemetry.csv"]
    assert codes(tmp_path / "drive") == ["disk_full"]
    session = read_session(tmp_path / "drive")
    assert 4.5 * RATE_HZ <= session.frame_count <= 5.5 * RATE_HZ
    frames, rate_hz = soundfile.read(tmp_path / "drive" / "audio.wav")
    assert (frames.shape, rate_hz) == ((session.frame_count,), RATE_HZ)
    assert session.telemetry["time_s"].tolist() == pytest.approx(
        [number / 10 for number in range(45)], abs=1e-3
    )


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
