"""The folder of a recording: refused when it is there, and gone again when nothing came."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from logger.errors import DeviceError, SessionError
from logger.recording.status import Status
from tests.logger.recording.scripted import ScriptedSound, blocks_of, noise, record


def test_folders_above_are_made(tmp_path: Path) -> None:
    out = tmp_path / "a" / "b" / "drive"
    record(ScriptedSound(blocks_of(noise(8000))), out, seconds=0.5)
    assert (out / "session.json").is_file()


def test_folders_above_are_gone_again_when_no_sound_came(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    with pytest.raises(DeviceError, match="no sound came"):
        record(ScriptedSound([]), tmp_path / "mine" / "a" / "b" / "drive")
    assert list(tmp_path.rglob("*")) == [tmp_path / "mine"]


def test_folders_above_that_hold_something_by_now_stay(tmp_path: Path) -> None:
    class Sound(ScriptedSound):
        def __enter__(self) -> ScriptedSound:
            (tmp_path / "a" / "other").mkdir()
            return super().__enter__()

    with pytest.raises(DeviceError, match="no sound came"):
        record(Sound([]), tmp_path / "a" / "b" / "drive")
    assert list(tmp_path.rglob("*")) == [tmp_path / "a", tmp_path / "a" / "other"]


LONG = "long" * 100  # no file system takes a name of 400 signs


@pytest.mark.parametrize("name", [LONG, f"{LONG}/drive"])
def test_a_folder_that_cannot_be_made_leaves_none(tmp_path: Path, name: str) -> None:
    out = tmp_path / "a" / "b" / name
    with pytest.raises(SessionError, match="cannot write"):
        record(ScriptedSound([]), out)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_vanished_is_not_promised(tmp_path: Path) -> None:
    out = tmp_path / "drive"

    def vanish(status: Status) -> None:
        shutil.rmtree(out, ignore_errors=True)

    with pytest.raises(DeviceError, match=r"the disk refuses: .*; nothing of it is left") as told:
        record(ScriptedSound(blocks_of(noise(80_000))), out, show=vanish)
    assert str(out) not in str(told.value)
    assert not out.exists()
