"""What is synced is on the disk, by the rules of each system."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import sys
from pathlib import Path

import numpy as np
import pytest

from logger.folder.atomic import replace_file
from logger.folder.disk_sync import sync_handle
from logger.folder.wav_writer import WavWriter

fcntl = pytest.importorskip("fcntl", reason="Windows has none")

FULL_SYNC = 51  # F_FULLFSYNC in sys/fcntl.h of macOS, from memory; the number itself proves nothing


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of what was synced, in turn."""
    names: list[str] = []
    sync = os.fsync

    def note(handle: int) -> None:
        names.append(Path(f"/proc/self/fd/{handle}").readlink().name)
        sync(handle)

    monkeypatch.setattr(os, "fsync", note)
    return names


@pytest.mark.parametrize("has_full_sync", [True, False])
def test_macos_is_asked_to_empty_the_cache_of_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, has_full_sync: bool
) -> None:
    asked: list[int] = []
    plain: list[int] = []

    def control(handle: int, number: int) -> None:
        asked.append(number)
        if not has_full_sync:
            raise OSError("not here")

    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", FULL_SYNC, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", control)
    monkeypatch.setattr(os, "fsync", plain.append)
    with (tmp_path / "file").open("wb") as file:
        sync_handle(file.fileno())
    assert asked == [FULL_SYNC]
    assert len(plain) == (not has_full_sync)


@pytest.mark.skipif(sys.platform != "linux", reason="asks the system which file a handle is")
def test_names_in_the_folder_are_synced_too(tmp_path: Path, synced: list[str]) -> None:
    folder = tmp_path / "drive"
    folder.mkdir()
    replace_file(folder / "session.json", (b"{}",))
    assert synced == [".session.json.part", "drive"]
    synced.clear()
    log = WavWriter(folder / "audio.wav", 8000, 1)
    for _ in range(2):
        log.write(np.zeros((10, 1), dtype=np.float32))
        log.renew()
        log.sync()
    log.close()
    assert synced[:3] == ["audio.wav", "drive", "audio.wav"]
