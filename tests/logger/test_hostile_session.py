"""A session folder that somebody mangled: one clear error, at once, and never a false answer."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import os
import unicodedata
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import logger.folder.telemetry_file as telemetry_file
from logger.errors import SessionError
from logger.folder.harmless import harmless
from logger.session import read_session
from logger.shelf import read_shelf
from tests.logger.folders import write_small_session

ENDLESS = Path("/dev/zero")


@pytest.fixture
def session(tmp_path: Path) -> Path:
    write_small_session(tmp_path / "drive")
    return tmp_path / "drive"


def change(session: Path, **fields: Any) -> None:
    file = session / "session.json"
    metadata = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(metadata | fields), encoding="utf-8")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipe with a name here")
@pytest.mark.parametrize("name", ["session.json", "telemetry.csv"])
def test_a_pipe_that_nobody_writes_is_refused_at_once(session: Path, name: str) -> None:
    (session / name).unlink()
    os.mkfifo(session / name)
    with pytest.raises(SessionError, match="not a regular file"):
        read_session(session)


@pytest.mark.skipif(not ENDLESS.is_char_device(), reason="no such device here")
@pytest.mark.parametrize("name", ["session.json", "telemetry.csv"])
def test_a_link_to_what_never_ends_is_refused_at_once(session: Path, name: str) -> None:
    (session / name).unlink()
    (session / name).symlink_to(ENDLESS)
    with pytest.raises(SessionError, match="not a regular file"):
        read_session(session)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"start_time_utc": "0001-01-01T00:00:00+23:00"}, '"start_time_utc" must be a time'),
        ({"start_time_utc": "9999-12-31T23:59:59-23:00"}, '"start_time_utc" must be a time'),
        ({"start_time_utc": "x" * 5000}, "must be a time"),
        ({"calibration": {"full_scale_db_spl": 1e308}}, "a finite number from 40 to 200"),
        ({"calibration": {"full_scale_db_spl": 5000}}, "a finite number from 40 to 200"),
        ({"calibration": {"response": [[20, 300], [20_000, 300]]}}, "at most 40 dB off"),
        ({"marks_s": [1e308]}, "a finite number"),
        ({"marks_s": [0.001 * at for at in range(200_000)]}, "a list of at most 1,000 items"),
        ({"sound_gaps": [{"after_frame": at, "duration_s": 86_400} for at in range(9)]}, "a day"),
        (
            {"sound_gaps": [{"after_frame": at, "duration_s": 0.1} for at in range(100_001)]},
            "a list of at most 100,000 items",
        ),
        ({"trouble": [{"code": "x"}] * 200_000}, "a list of at most 100,000 items"),
        ({"trouble": [{"code": "x", "start_s": 1e308}]}, "a finite number"),
        ({"notes": "x" * 30_000_000}, "too large to describe a session"),
    ],
)
def test_what_no_session_has_is_one_short_error(
    session: Path, fields: dict[str, object], told: str
) -> None:
    change(session, **fields)
    with pytest.raises(SessionError, match=told) as refused:
        read_session(session)
    assert len(str(refused.value)) < 400


def test_what_a_terminal_would_obey_is_left_out(session: Path) -> None:
    """Escape sequences, line breaks, bidirectional overrides, halves of surrogate pairs."""
    evil = "a\x1b[2Jb\nc\u202ed\ud800e\u2028f\x9bg"
    change(session, name=evil, notes=[evil], trouble=[{"code": "x", "message": evil}])
    metadata = read_session(session).metadata
    for text in (metadata.name, metadata.notes[0], metadata.trouble[0].message):
        kinds = {unicodedata.category(sign) for sign in text}
        assert kinds <= {"Ll", "Lu", "Nd", "Po", "Ps", "So", "Zs"}
        assert "".join(sign for sign in text if sign.isalpha()) == "aJbcdefg"
        text.encode()


def test_other_scripts_and_signs_stay() -> None:
    for text in ("Grüße, 5 °C", "علی‌رضا", "日本語 (テスト)", "👩‍🔧 [bold]"):
        assert harmless(text) == text


def test_values_that_no_car_has_are_missing_and_rows_out_of_time_are_dropped(session: Path) -> None:
    rows = "time_s,rpm,load_percent\n-1e308,900,5\n0,1e300,1e300\n1,900,-7\n2,910,50\n1e308,1,1\n"
    (session / "telemetry.csv").write_text(rows, encoding="utf-8")
    read = read_session(session)
    assert list(read.telemetry["time_s"]) == [0.0, 1.0, 2.0]
    np.testing.assert_array_equal(read.telemetry["rpm"], [np.nan, 900.0, 910.0])
    np.testing.assert_array_equal(read.telemetry["load_percent"], [np.nan, np.nan, 50.0])
    assert [trouble.code for trouble in read.metadata.trouble] == ["telemetry_rows_dropped"]


@pytest.mark.parametrize("limit", ["_MOST_ROWS", "LARGEST_FILE_BYTES"])
def test_more_telemetry_than_the_memory_holds_is_refused(
    session: Path, monkeypatch: pytest.MonkeyPatch, limit: str
) -> None:
    monkeypatch.setattr(telemetry_file, limit, 2)
    with pytest.raises(SessionError, match="more than a day of driving"):
        read_session(session)


def test_one_bad_session_is_named_and_the_others_are_read(tmp_path: Path) -> None:
    for name in ("good", "dated", "linked"):
        write_small_session(tmp_path / name)
    change(tmp_path / "dated", start_time_utc="0001-01-01T00:00:00+23:00")
    (tmp_path / "linked" / "session.json").unlink()
    (tmp_path / "linked" / "session.json").symlink_to(tmp_path)
    shelf = read_shelf(tmp_path)
    assert [each.name for each in shelf.sessions] == ["good"]
    assert {name for name, _ in shelf.unreadable} == {"dated", "linked"}


def test_a_folder_that_may_not_be_looked_into_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By a stub, since root may look anywhere."""
    for name in ("good", "locked"):
        write_small_session(tmp_path / name)
    true_stat = Path.stat

    def stat(path: Path, *, follow_symlinks: bool = True) -> os.stat_result:
        if path.parent.name == "locked":
            raise PermissionError(13, "Permission denied", str(path))
        return true_stat(path, follow_symlinks=follow_symlinks)

    monkeypatch.setattr(Path, "stat", stat)
    shelf = read_shelf(tmp_path)
    assert [each.name for each in shelf.sessions] == ["good"]
    ((name, why),) = shelf.unreadable
    assert (name, "Permission denied" in why) == ("locked", True)


@pytest.mark.skipif(os.name == "nt", reason="names are text there")
def test_a_folder_whose_name_is_no_text_can_be_shown(tmp_path: Path) -> None:
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/mon\xff"))
    write_small_session(tmp_path / "drive")
    (tmp_path / "drive").rename(folder)
    (shelved,) = read_shelf(tmp_path).sessions
    shelved.name.encode()
    assert shelved.name == "mon\ufffd"
    sound = shelved.session.drive().sound
    assert sound is not None
    assert sum(block.size for block in sound.read_blocks()) == sound.frame_count
