"""Recording on a computer that sleeps, sets its clock, or has a slow or full disk."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import itertools
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import pytest
import soundfile

import logger.folder.atomic
from logger.errors import DeviceError
from logger.folder.wav_writer import WavWriter
from logger.recording.clock_watch import Clocks
from logger.session import read_session
from tests.logger.recording.scripted import (
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


def stall(
    monkeypatch: pytest.MonkeyPatch, clock: Clock, at_s: float, stall_s: float, write_s: float = 0.0
) -> None:
    """Let the disk take ``stall_s`` for one block, and from then on ``write_s`` for each."""
    write = WavWriter.write
    was: list[float] = []

    def slow_write(self: WavWriter, samples: np.ndarray) -> None:
        clock.now_s += write_s if was else 0.0
        if not was and clock.now_s >= START_S + at_s:
            clock.now_s += stall_s
            was.append(stall_s)
        write(self, samples)

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
    stall(monkeypatch, sound.clock, 2.0, 3.5, write_s)  # with 4.5 the computer stood still
    recorded = record(sound, tmp_path / "drive", seconds=30.0)
    assert recorded.trouble == ()


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

    write_synced, close_whole = logger.folder.atomic.write_synced, WavWriter.close
    monkeypatch.setattr("logger.folder.atomic.write_synced", refuse)
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
    session = read_session(tmp_path / "drive")
    assert [one.code for one in session.metadata.trouble] == ["disk_full"]
    assert 4.5 * RATE_HZ <= session.frame_count <= 5.5 * RATE_HZ
    frames, rate_hz = soundfile.read(tmp_path / "drive" / "audio.wav")
    assert (frames.shape, rate_hz) == ((session.frame_count,), RATE_HZ)
    assert session.telemetry["time_s"].tolist() == pytest.approx(
        [number / 10 for number in range(45)], abs=1e-3
    )


def held_open(monkeypatch: pytest.MonkeyPatch, tries: range) -> None:
    """Let session.json be held by another program, at these tries to write it."""
    count = itertools.count()
    rename = logger.folder.atomic._rename

    def refuse(source: Path, target: Path) -> None:
        if target.name == "session.json" and next(count) in tries:
            raise PermissionError(errno.EACCES, "Permission denied")
        rename(source, target)

    monkeypatch.setattr("logger.folder.atomic._rename", refuse)
    monkeypatch.setattr("logger.recording.take._LAST_PAUSE_S", 0.0)


def test_details_that_another_program_holds_do_not_end_the_drive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_open(monkeypatch, range(1, 4))
    marks = iter([False] * 12 + [True])
    recorded = record(
        ScriptedSound(blocks_of(noise(9 * RATE_HZ))),
        tmp_path / "drive",
        seconds=8.0,
        mark_asked=lambda: next(marks, False),
    )
    session = read_session(tmp_path / "drive")
    assert session.frame_count == 8 * RATE_HZ
    assert len(session.metadata.marks_s) == 1
    (told,) = recorded.trouble
    assert told.code == "details_refused"
    assert told.duration_s == pytest.approx(3.0, abs=0.3)  # told from the first refusal, each 1 s
    assert session.metadata.trouble == recorded.trouble


def test_details_that_are_held_at_the_end_are_tried_again_and_cost_no_sound(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_open(monkeypatch, range(1, 5))
    record(ScriptedSound(blocks_of(noise(9 * RATE_HZ))), tmp_path / "drive", seconds=5.5)
    assert read_session(tmp_path / "drive").frame_count == 5.5 * RATE_HZ


def test_details_that_stay_held_are_told_and_the_sound_is_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held_open(monkeypatch, range(1, 1000))
    with pytest.raises(DeviceError, match="Permission denied"):
        record(ScriptedSound(blocks_of(noise(9 * RATE_HZ))), tmp_path / "drive", seconds=5.5)
    assert read_session(tmp_path / "drive").frame_count == 5.5 * RATE_HZ
