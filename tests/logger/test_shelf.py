"""A folder of sessions: what is one, what is none, and what cannot be read."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from logger.errors import SessionError
from logger.session import SessionMetadata, write_session
from logger.shelf import read_shelf

NOON = datetime(2024, 6, 8, 12, 0, tzinfo=UTC)


def put(folder: Path, name: str) -> None:
    rows = pd.DataFrame({"time_s": [0.0, 1.0], "rpm": [1000.0, 1100.0]})
    metadata = SessionMetadata(name=name, start_time_utc=NOON, car={"engine": {"cylinders": 6}})
    write_session(folder, metadata, telemetry=rows)


def test_every_session_goes_by_the_name_of_its_folder(tmp_path: Path) -> None:
    put(tmp_path / "monday", "monday")
    put(tmp_path / "friday", "after the first try")
    shelf = read_shelf(tmp_path)
    told = [(each.name, each.note, each.session.metadata.name) for each in shelf.sessions]
    assert told == [("friday", "after the first try", "friday"), ("monday", "", "monday")]
    assert {each.start_time_utc for each in shelf.sessions} == {NOON}
    assert {each.session.path for each in shelf.sessions} == {
        tmp_path / "monday",
        tmp_path / "friday",
    }
    assert shelf.unreadable == ()


def test_what_is_left_of_a_session_is_named_and_other_things_are_not(tmp_path: Path) -> None:
    put(tmp_path / "monday", "monday")
    put(tmp_path / ".half.part", "a folder that a killed import left behind")
    (tmp_path / "photos").mkdir()
    (tmp_path / "notes.txt").write_text("", encoding="utf-8")
    (tmp_path / "damaged").mkdir()
    (tmp_path / "damaged" / "session.json").write_text("{", encoding="utf-8")
    (tmp_path / "lost").mkdir()
    (tmp_path / "lost" / "telemetry.csv").write_text("time_s,rpm\n", encoding="utf-8")
    shelf = read_shelf(tmp_path)
    assert [each.name for each in shelf.sessions] == ["monday"]
    (damaged, lost) = shelf.unreadable
    assert (damaged[0], lost[0]) == ("damaged", "lost")
    assert "it is not JSON" in damaged[1]
    assert "has no session.json" in lost[1]


def test_a_session_itself_is_no_folder_of_sessions(tmp_path: Path) -> None:
    put(tmp_path / "monday", "monday")
    with pytest.raises(SessionError, match="is one session; give the folder that holds"):
        read_shelf(tmp_path / "monday")


@pytest.mark.parametrize("name", ["nowhere", "notes.txt"])
def test_no_folder_is_one_clear_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "notes.txt").write_text("", encoding="utf-8")
    with pytest.raises(SessionError, match=f"cannot look into .*{name}"):
        read_shelf(tmp_path / name)


def test_an_empty_folder_is_an_empty_shelf(tmp_path: Path) -> None:
    shelf = read_shelf(tmp_path)
    assert (shelf.sessions, shelf.unreadable) == ((), ())
