"""``pipenote history`` as it is typed, on the recorded sessions."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import BASELINE, CAR, OLD_LEVELS, POSTFIX, SESSIONS, Run, only_document

pytestmark = pytest.mark.usefixtures("done_once")


def put(session: str, folder: Path, **fields: Any) -> None:
    """Put a recorded session into a folder under another name, with other metadata."""
    shutil.copytree(session, folder)
    file = folder / "session.json"
    metadata = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(metadata | fields), encoding="utf-8")


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three drives and four that cannot be used, named so that their names tell no order."""
    folder = tmp_path_factory.mktemp("garage")
    put(BASELINE, folder / "stock", start_time_utc="2024-05-11T09:20:00+00:00")
    put(POSTFIX, folder / "branch on", start_time_utc="2024-06-08T10:05:00+00:00")
    put(OLD_LEVELS, folder / "a log", start_time_utc="2024-06-09T10:05:00+00:00")
    put(BASELINE, folder / "cut", start_time_utc="2024-06-10T10:05:00+00:00")
    os.truncate(folder / "cut" / "audio.wav", 9_000)
    put(BASELINE, folder / "from later", format_version=99)
    put(POSTFIX, folder / "mangled", start_time_utc="yesterday")
    (folder / "lost").mkdir()
    shutil.copy(f"{BASELINE}/telemetry.csv", folder / "lost")
    (folder / "photos").mkdir()
    return folder


def test_each_run_is_told_in_order_and_what_is_broken_by_name(
    run: Run, garage: Path, tmp_path: Path
) -> None:
    page = tmp_path / "history.html"
    result = run("history", garage, "--json", "--out", page)
    document = only_document(result, "history")
    assert (document["baseline"], document["best"]) == ("stock", "branch on")
    assert [each["name"] for each in document["runs"]] == ["stock", "branch on", "a log"]
    change = document["runs"][1]["bands"][0]
    # truth of the recorded drives: order 3 falls by 17 dB over the baseline's band
    assert change["level_change_db"] == pytest.approx(-16.6, abs=1.0)
    assert change["verdict"] == "cured"
    assert document["runs"][1]["changed"] == ["postfix"]  # what the session calls itself
    assert "holds only levels" in document["runs"][2]["why_not"]
    left_out = {each["name"]: each["why"] for each in document["left_out"]}
    assert set(left_out) == {"cut", "from later", "mangled", "lost"}
    assert all(left_out.values())
    text = page.read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert "Best so far: &#39;branch on&#39;." in text


def test_a_table_a_page_and_no_overwriting(run: Run, tmp_path: Path) -> None:
    folder, page = tmp_path / "car", tmp_path / "page.html"
    put(BASELINE, folder / "one")
    put(POSTFIX, folder / "two")
    page.write_text("mine", encoding="utf-8")
    refused = run("history", folder, "--out", page)
    assert (refused.status, page.read_text(encoding="utf-8")) == (2, "mine")
    assert "--overwrite" in refused.err
    done = run("history", folder, "--out", page, "--overwrite", "--baseline", "one")
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("Best so far: 'two'. The drone at 2,250 rpm is cured")
    assert done.out.endswith("open it with any browser.\n")
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("nowhere", "cannot look into nowhere"),
        (f"{BASELINE}", "is one session"),
        (f"{CAR}", "cannot look into"),
        (".", "a history needs two drives or more, and no session can be used"),
        (f"{SESSIONS} --baseline monday", "choose one of old_levels, baseline, postfix"),
        (f"{SESSIONS} --baseline postfix", "only postfix can be used; old_levels is left out"),
        (f"{SESSIONS} --car nowhere.toml", "cannot read the car file"),
        (f"{SESSIONS} --out {SESSIONS}/car.toml --car {SESSIONS}/car.toml", "is part of"),
        (f"{SESSIONS} --out {SESSIONS.parent}", "is a folder"),
        (f"{SESSIONS} --cylinders 40", "1 to 16 cylinders"),
        (f"{SESSIONS} --channel 2", "has no channel 2"),
        ("", "FOLDER"),
    ],
)
def test_what_cannot_be_done_is_one_clear_line(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: str, told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("history", *words.split())
    assert (result.status, result.out) == (2, "")
    assert told in result.err
    assert result.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_two_that_cannot_be_compared_are_a_result_that_says_why(run: Run) -> None:
    """The oldest of the recorded sessions has levels only, the others have sound."""
    document = only_document(run("history", SESSIONS, "--json"), "history")
    assert (document["baseline"], document["best"]) == ("old_levels", None)
    assert "--baseline" in document["answer"]
    assert all(each["why_not"] for each in document["runs"][1:])
