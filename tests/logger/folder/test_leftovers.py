"""What killed imports left behind: cleared when it is ours and nobody's work, else left alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from logger.folder.atomic import new_folder, try_to_hold
from logger.folder.leftovers import clear_leftovers, rest_of_the_old
from logger.folder.names import refuse_taken
from tests.logger.folders import files_below

AN_HOUR_AGO, A_WEEK_AGO = -3600.0, -604_800.0


def put(folder: Path, *names: str, age_s: float = A_WEEK_AGO) -> Path:
    """A folder with files, last written so long ago."""
    folder.mkdir()
    for name in names:
        (folder / name).write_bytes(bytes(1000))
    for path in (*folder.iterdir(), folder):
        at_s = path.stat().st_mtime + age_s
        os.utime(path, (at_s, at_s))
    return folder


def test_what_a_killed_import_left_is_cleared_and_told(tmp_path: Path) -> None:
    left = put(tmp_path / ".drive.ab12cd3_.part", "audio.wav", "audio-2.wav", "telemetry.csv")
    empty = put(tmp_path / ".other.abcdefgh.part")
    told = clear_leftovers(tmp_path)
    assert all(str(path) in words for path, words in zip((left, empty), told, strict=True))
    assert all(words.startswith("Cleared") for words in told)
    assert list(tmp_path.iterdir()) == []


def test_what_may_be_somebody_elses_is_left(tmp_path: Path) -> None:
    put(tmp_path / ".drive.ab12cd3_.part", "audio.wav", "letter.odt")
    put(tmp_path / ".drive.part", "audio.wav")
    put(tmp_path / "drive.ab12cd3_.part", "audio.wav")
    put(tmp_path / ".drive.ab12cd3_.old", "audio.wav")
    put(tmp_path / ".drive.ab12cd34.part", "audio.wav", age_s=0.0)
    outside = put(tmp_path / "outside", "audio.wav")
    (tmp_path / ".drive.linked00.part").symlink_to(outside)
    before = files_below(tmp_path)
    assert clear_leftovers(tmp_path) == ()
    assert files_below(tmp_path) == before


@pytest.mark.skipif(sys.platform == "win32", reason="a folder cannot be held there")
def test_what_an_import_is_still_working_on_is_left(tmp_path: Path) -> None:
    held = put(tmp_path / ".drive.ab12cd3_.part", "audio.wav", age_s=AN_HOUR_AGO)
    with try_to_hold(held) as is_free:
        assert is_free
        assert clear_leftovers(tmp_path) == ()
    assert len(clear_leftovers(tmp_path)) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="a folder cannot be held there")
def test_a_new_folder_is_held_while_it_is_filled(tmp_path: Path) -> None:
    with (
        new_folder(tmp_path / "drive", refuse_taken=refuse_taken) as part,
        try_to_hold(part) as free,
    ):
        assert not free
    assert [path.name for path in tmp_path.iterdir()] == ["drive"]


def test_what_could_not_be_deleted_of_a_replaced_session_is_told(tmp_path: Path) -> None:
    left = put(tmp_path / ".drive.ab12cd3_.old", "audio.wav")
    put(tmp_path / ".drive.two.ab12cd3_.old", "audio.wav")
    (told,) = rest_of_the_old(tmp_path / "drive")
    assert str(left) in told
