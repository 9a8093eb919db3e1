"""A disk that takes its time, or refuses late: sound goes on, and what the disk says is told."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import errno
import json
import os
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import logger.folder.wav_writer
from logger.errors import DeviceError
from logger.folder.wav_writer import WavWriter
from logger.microphone.contract import SoundBlock
from logger.recording.sound_log import SoundLog
from logger.session import read_session
from tests.logger.recording.scripted import (
    RATE_HZ,
    ScriptedSound,
    blocks_of,
    noise,
    record,
)

LONG_S = 20.0
HEADER_BYTES, FRAME_BYTES = 44, 3  # one channel of 24-bit PCM


def one_thread() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1)


class Watched(ScriptedSound):
    """Notes how much sound the file held whenever another block was asked for."""

    def watch(self, out: Path, stuck: threading.Event, free: threading.Event) -> None:
        self.path, self.stuck, self.free = out / "audio.wav", stuck, free
        self.held_while_stuck: list[int] = []

    def next_block(self) -> SoundBlock | None:
        if self.stuck.is_set() and not self.free.is_set():
            held = (self.path.stat().st_size - HEADER_BYTES) // FRAME_BYTES
            self.held_while_stuck.append(held)
            if len(self.held_while_stuck) >= 30:
                self.free.set()
        return super().next_block()


def test_sound_is_given_to_the_system_while_a_sync_takes_its_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SIGKILL takes nothing of what ``write`` handed over; so nothing may hold it back."""
    out = tmp_path / "drive"
    stuck, free = threading.Event(), threading.Event()
    sync = os.fsync
    in_vain: list[bool] = []

    def slow_fsync(handle: int) -> None:
        if (out / "audio.wav").exists() and not free.is_set():
            stuck.set()
            in_vain.append(not free.wait(LONG_S))
        sync(handle)

    monkeypatch.setattr(os, "fsync", slow_fsync)
    sound = Watched(blocks_of(noise(90 * RATE_HZ)))
    sound.watch(out, stuck, free)
    marks = iter([False] * 12 + [True])  # news for session.json, which is synced too
    recorded = record(
        sound, out, seconds=80.0, mark_asked=lambda: next(marks, False), disk=one_thread
    )
    assert not any(in_vain), "the writer waited for the sync"
    steps = np.diff(sound.held_while_stuck)
    assert (steps == RATE_HZ // 10).all()  # every block is there before the next one is asked for
    assert recorded.trouble == ()
    assert len(read_session(out).metadata.marks_s) == 1


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO])
def test_disk_that_refuses_only_when_synced_ends_the_drive_with_what_it_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """As with quotas and network shares: ``write`` is content, ``fsync`` is not."""
    out = tmp_path / "drive"
    synced: list[int] = []

    def fsync(handle: int) -> None:
        if len(synced) >= 3:
            raise OSError(code, os.strerror(code))
        synced.append(os.fstat(handle).st_size)

    monkeypatch.setattr(logger.folder.wav_writer, "sync_handle", fsync)
    with pytest.raises(DeviceError, match=os.strerror(code)):
        record(ScriptedSound(blocks_of(noise(20 * RATE_HZ))), out, seconds=15.0)
    session = read_session(out)
    assert HEADER_BYTES + FRAME_BYTES * session.frame_count == synced[-1]
    told = "disk_full" if code == errno.ENOSPC else "disk_lost"
    assert [one.code for one in session.metadata.trouble] == [told]
    assert json.loads((out / "session.json").read_text("utf-8"))["state"] == "complete"


def test_a_full_file_is_closed_by_who_waits_for_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.recording.sound_log._FILE_S", 1)
    synced: list[str] = []
    sync = WavWriter.sync

    def noted(self: WavWriter) -> None:
        synced.append(self._path.name)
        sync(self)

    monkeypatch.setattr(WavWriter, "sync", noted)
    log = SoundLog(tmp_path, RATE_HZ, 1)
    samples = noise(3 * RATE_HZ - 5)
    for start in range(0, samples.shape[0], 801):
        log.write(samples[start : start + 801])
    assert synced == []
    log.renew()
    log.sync()
    assert synced == ["audio.wav", "audio-2.wav", "audio-3.wav"]
    log.close()
    sizes = [path.stat().st_size for path in sorted(tmp_path.iterdir())]
    assert sum(sizes) == 3 * HEADER_BYTES + FRAME_BYTES * samples.shape[0] + 1  # odd: one of pad


def test_what_is_cut_off_for_a_full_disk_leaves_no_hole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("logger.recording.sound_log._FILE_S", 2)
    log = SoundLog(tmp_path, RATE_HZ, 1)
    log.write(noise(RATE_HZ))
    log.renew()
    log.sync()
    log.write(noise(2 * RATE_HZ))  # fills the first file, and begins another
    monkeypatch.setattr(WavWriter, "sync", _refuse)
    log.renew()
    with pytest.raises(OSError, match="full"):
        log.sync()
    log.cut_to_last_sync()
    assert log.frame_count == RATE_HZ
    sizes = {path.name: path.stat().st_size for path in tmp_path.iterdir()}
    assert sizes["audio.wav"] == HEADER_BYTES + FRAME_BYTES * RATE_HZ
    assert sizes["audio-2.wav"] == HEADER_BYTES


def _refuse(self: WavWriter) -> None:
    del self
    raise OSError(errno.ENOSPC, "full")
