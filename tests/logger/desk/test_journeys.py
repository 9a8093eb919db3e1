"""The job on the desk, page by page, over open files."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import html
import json
import os
import re
import shutil
from pathlib import Path

import pytest
import soundfile

from analysis.words.quantities import rpm
from logger.session import read_session
from tests.command_line import OLD_LEVELS, SESSIONS
from tests.logger.desk.opened import Opened, opened
from tests.logger.importing.test_second_recorder import recorders


def test_an_empty_folder_leads_to_a_first_drive(desk: Opened) -> None:
    text = desk.get("/").text
    assert "There is no drive here yet" in text
    assert 'href="/bring-in"' in text


def test_the_demo_can_be_put_here(desk: Opened) -> None:
    text = desk.post("/demo").text
    assert {"baseline", "postfix", "car.toml"} <= {each.name for each in desk.folder.iterdir()}
    assert "Nobody has listened to “baseline” yet" in text  # the first driven that has sound


def test_a_drive_is_listened_to_by_the_command_itself(tmp_path: Path) -> None:
    shutil.copytree(OLD_LEVELS, tmp_path / "monday")
    with opened(tmp_path) as desk:
        page = desk.done(desk.post("/drives/monday/find"))
        drives = desk.get("/").text
    kept = json.loads((tmp_path / ".desk/found/monday.json").read_text(encoding="utf-8"))
    band = kept["drone_bands"][0]
    assert rpm(band["peak_rpm"]) in page.text  # rounded as the report does
    assert f"drone at {rpm(band['peak_rpm'])}" in drives
    assert "Levels, no sound" in drives  # what the report calls this doubt


def test_a_finding_of_a_drive_that_changed_since_is_not_shown(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    kept = desk.folder / ".desk" / "found" / "monday.json"
    kept.parent.mkdir(parents=True)
    kept.write_text('{"drone_bands": [], "withheld": null}', encoding="utf-8")
    page = desk.get("/").text
    assert "no drone found" in page
    assert "></a>" not in page  # nothing is odd: nothing to lead to
    os.utime(kept, (0, 0))  # made before the drive
    assert "nobody has listened yet" in desk.get("/").text


def test_files_are_brought_in(desk: Opened) -> None:
    log = b"time_s,rpm,level_dba\n" + b"".join(
        f"{each / 2},{1000 + 20 * each},{60 + each % 7}\n".encode() for each in range(120)
    )
    files = {"telemetry": ("log.csv", log)}
    page = desk.done(desk.post("/bring-in", data={"name": "monday", "cylinders": "6"}, files=files))
    assert page.url.path == "/drives/monday"
    assert "understood: 120 rows of the log, 3 of 3 columns used" in page.text
    assert "give “Started”" in page.text  # nothing in the files says when it was
    assert "--started" not in page.text
    assert (desk.folder / "monday" / "telemetry.csv").is_file()


def test_a_log_that_needs_to_be_told_more_is_asked_about_and_kept(desk: Opened) -> None:
    rows = b"".join(f"{each},{900 + each},{60 + each % 7}\n".encode() for each in range(50))
    files = {"telemetry": ("log.csv", b"a,b,level_dba\n" + rows)}
    page = desk.done(desk.post("/bring-in", data={"name": "monday"}, files=files))
    assert "log.csv: " in page.text or "log.csv " in page.text
    assert ".desk" not in page.text.partition("The same as a command")[0]
    assert "column”" in page.text  # the field of the form, not the option
    link = page.text.partition('href="/bring-in?again=')[2].partition('"')[0]
    form = desk.get(f"/bring-in?again={link.replace('&amp;', '&')}").text
    token = link[:16]
    assert "The files are here already: log.csv." in form
    told = {"token": token, "name": "monday", "time-column": "a", "rpm-column": "b"}
    told["time-unit"] = "s"
    done = desk.done(desk.post("/bring-in/again", data=told))
    assert done.url.path == "/drives/monday", done.text
    again = f"/bring-in?again={token}"
    assert f'href="{again}"' in done.text
    choice = desk.get(again).text
    assert "a (now: time" in choice
    assert "b (now: rpm" in choice
    done = desk.done(desk.post("/bring-in/again", data=told))  # it replaces its own drive only
    assert done.url.path == "/drives/monday", done.text
    shutil.copytree(desk.folder / "monday", desk.folder / "other")
    refused = desk.post("/bring-in/again", data=told | {"name": "other"})
    assert refused.status_code == 400


def test_a_file_is_of_when_it_was_written_not_of_when_it_was_brought(desk: Opened) -> None:
    rows = "".join(f"{each},{900 + each},{60 + each % 7}\n" for each in range(50))
    files = {"telemetry": ("log.csv", "time_s,rpm,level_dba\n" + rows)}
    told = {"name": "monday", "cylinders": "6", "written": '{"log.csv": 1717840800000}'}
    desk.done(desk.post("/bring-in", data=told, files=files))
    start = read_session(desk.folder / "monday").metadata.start_time_utc
    assert start is not None
    assert (start.year, start.month) == (2024, 6)


def test_a_log_in_two_files_is_one_drive(desk: Opened) -> None:
    head = "time_s,rpm,level_dba\n"
    rows = [f"{each / 2},{1000 + 20 * each},{60 + each % 7}\n" for each in range(120)]
    parts = [head + "".join(rows[:60]), head + "".join(rows[60:])]
    files = [("telemetry", (f"part {n}.csv", part)) for n, part in enumerate(parts)]
    page = desk.done(desk.post("/bring-in", data={"name": "monday", "cylinders": "6"}, files=files))
    assert page.url.path == "/drives/monday", page.text
    assert len(read_session(desk.folder / "monday").telemetry) == 120


def test_a_second_recorder_is_laid_beside_the_first(desk: Opened, tmp_path: Path) -> None:
    (made := tmp_path / "made").mkdir()
    cabin, tail = recorders(made)
    files = {"audio": ("cabin.wav", cabin.read_bytes())}
    files["second-audio"] = ("tail.wav", tail.read_bytes())
    page = desk.done(desk.post("/bring-in", data={"name": "monday", "cylinders": "6"}, files=files))
    assert page.url.path == "/drives/monday", page.text
    assert soundfile.info(desk.folder / "monday" / "audio.wav").channels == 2


@pytest.mark.parametrize("name", ["notes.docx", "noending", "x.exe"])
def test_other_files_are_refused_and_not_kept(desk: Opened, name: str) -> None:
    answer = desk.post("/bring-in", data={"name": "monday"}, files={"audio": (name, b"x")})
    assert answer.status_code == 400
    assert not (desk.folder / ".desk").exists()
    assert 'value="monday"' in answer.text  # what was typed stands there still


def test_a_name_that_is_taken_loses_neither_the_files_nor_what_was_typed(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    rows = "".join(f"{each / 2},{1000 + 20 * each},{60 + each % 7}\n" for each in range(120))
    files = {"telemetry": ("log.csv", "time_s,rpm,level_dba\n" + rows)}
    told = {"name": "monday", "cylinders": "6"}
    refused = desk.post("/bring-in", data=told, files=files)
    assert refused.status_code == 400
    assert "choose another name" in refused.text
    assert 'value="6"' in refused.text
    token = refused.text.partition('name="token" value="')[2].partition('"')[0]
    page = desk.done(desk.post("/bring-in/again", data=told | {"token": token, "name": "tuesday"}))
    assert page.url.path == "/drives/tuesday", page.text


def test_two_drives_are_compared(desk: Opened) -> None:
    for name in ("monday", "friday"):
        shutil.copytree(OLD_LEVELS, desk.folder / name)
    # of the engine alone: nothing is sized on the whole exhaust
    (desk.folder / "car.toml").write_text("[engine]\ncylinders = 6\n", encoding="utf-8")
    told = {"baseline": "monday", "postfix": "friday", "car": "car.toml"}
    page = desk.done(desk.post("/prove", data=told))
    assert page.url.path == "/prove", page.text
    assert "friday%20against%20monday.html" in page.text
    same = desk.post("/prove", data={"baseline": "monday", "postfix": "monday"})
    assert "two different drives" in same.text


def test_the_gas_found_in_a_branch_is_kept_in_a_copy_of_the_car_file(desk: Opened) -> None:
    """With what was told of the branch when the drives were compared."""
    for name in ("baseline", "postfix"):
        shutil.copytree(SESSIONS / name, desk.folder / name)
    # without the exhaust's sections: quick
    text = "# ours\n[engine]\ncylinders = 6\n"
    (desk.folder / "ours.toml").write_text(text, encoding="utf-8")
    told = {"baseline": "baseline", "postfix": "postfix", "measured": "length", "built_1": "744 mm"}
    page = desk.done(desk.post("/prove", data=told | {"car": "ours.toml"}))
    assert "Keep the gas found in the branch" in page.text, page.text
    shown = {"shown": "postfix against baseline.html", "gas_car": "ours.toml"}
    started = desk.post("/prove/gas", data=shown | {"with_gas": "ours with gas"})
    assert "--built=744 mm" in html.unescape(started.text).replace("'", "")
    page = desk.done(started)
    assert page.url.path == "/prove", page.text
    assert "ours with gas.toml knows the gas" in page.text
    kept = (desk.folder / "ours with gas.toml").read_text(encoding="utf-8")
    assert kept.startswith(text)
    assert "branch_gas_temperature" in kept.removeprefix(text)
    assert (desk.folder / "ours.toml").read_text(encoding="utf-8") == text
    again = desk.post("/prove/gas", data=shown | {"with_gas": "ours with gas"})
    assert again.status_code == 400
    assert "choose another name" in again.text


def test_after_the_work_it_is_asked_whether_it_worked(desk: Opened) -> None:
    """Never for another branch on top of the first."""
    for name in ("baseline", "postfix"):
        shutil.copytree(SESSIONS / name, desk.folder / name)
    (desk.folder / "reports").mkdir()
    (desk.folder / "reports" / "baseline.html").touch()
    assert "see whether it worked" in desk.get("/").text
    page = desk.get("/drives/postfix").text
    folded, build = page.index("Size a branch for this drive all the same"), page.index('id="size"')
    assert folded < build < page.index("Note, rename")
    assert 'name="keep" value="1">' in page  # the tick is not set beforehand
    (desk.folder / "reports" / "postfix against baseline.html").write_text(
        '<meta name="description" content="cured: 22 dB quieter">', encoding="utf-8"
    )
    text = desk.get("/").text
    assert "See the verdict" in text
    assert text.count(">cured: 22 dB quieter</a>") == 2  # beside either drive
    assert "Size a branch for this drive all the same" not in desk.get("/drives/baseline").text


def test_a_history_is_shown(desk: Opened) -> None:
    for name in ("monday", "friday"):
        shutil.copytree(OLD_LEVELS, desk.folder / name)
    page = desk.done(desk.post("/prove", data={"all": "1"}))
    assert 'src="/reports/history.html"' in page.text, page.text


def test_a_note_is_kept_with_the_drive(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    before = json.loads((desk.folder / "monday" / "session.json").read_text(encoding="utf-8"))
    desk.post("/drives/monday/note", data={"note": "cap out 20 mm"})
    after = json.loads((desk.folder / "monday" / "session.json").read_text(encoding="utf-8"))
    assert after == before | {"name": "cap out 20 mm"}
    assert "cap out 20 mm" in desk.get("/").text
    assert desk.post("/drives/monday/note", data={"note": "x" * 81}).status_code == 400


def test_a_drive_is_renamed_and_binned_but_never_lost(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    assert desk.post("/drives/monday/rename", data={"name": "stock"}).status_code == 200
    page = desk.post("/drives/stock/bin")
    assert not (desk.folder / "stock").exists()
    (where,) = (desk.folder / ".desk" / "bin").iterdir()
    assert str(where) in page.text
    assert sorted(each.name for each in where.iterdir()) == sorted(
        each.name for each in (SESSIONS / "old_levels").iterdir()
    )


@pytest.mark.parametrize("form", ["/drives/monday/size", "/record", "/prove"])
def test_a_car_file_that_vanished_is_told(desk: Opened, form: str) -> None:
    for name in ("monday", "friday"):
        shutil.copytree(OLD_LEVELS, desk.folder / name)
    told = {"name": "sunday", "baseline": "monday", "postfix": "friday", "car": "gone.toml"}
    answer = desk.post(form, data=told)
    assert answer.status_code == 400
    assert "There is no car file gone.toml any more." in answer.text


def test_a_folder_that_vanishes_is_told(desk: Opened) -> None:
    shutil.rmtree(desk.folder)
    answer = desk.get("/")
    assert answer.status_code == 400
    assert "Cannot look into" in answer.text


def test_an_errand_can_be_stopped(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    stopped = desk.stop(desk.post("/drives/monday/size"))
    assert "Nothing of it was written" in stopped.text
    assert not (desk.folder / "reports" / "monday.html").exists()


def test_a_drive_that_is_renamed_keeps_its_reports(desk: Opened) -> None:
    for name in ("monday", "friday"):
        shutil.copytree(OLD_LEVELS, desk.folder / name)
    (reports := desk.folder / "reports").mkdir()
    for name in ("monday.html", "monday, tried.pdf", "friday against monday.html", "history.html"):
        (reports / name).touch()
    (told := desk.folder / ".desk" / "told").mkdir(parents=True)
    (told / "monday, tried.json").touch()
    desk.post("/drives/monday/rename", data={"name": "stock"})
    desk.post("/drives/friday/rename", data={"name": "history"})
    kept = {"stock.html", "stock, tried.pdf", "history against stock.html", "history.html"}
    assert {each.name for each in reports.iterdir()} == kept
    assert [each.name for each in told.iterdir()] == ["stock, tried.json"]


def test_a_comparison_that_is_refused_shows_what_was_told(desk: Opened) -> None:
    for name in ("monday", "friday"):
        shutil.copytree(OLD_LEVELS, desk.folder / name)
    told = {"baseline": "monday", "postfix": "friday", "measured": "sleeve", "built_1": "914"}
    started = desk.post("/prove", data=told)
    assert "--built=sleeve 914" in started.text
    refused = desk.done(started)
    link = re.search(r'href="(/prove\?errand=\w+)"', refused.text)
    assert link is not None, refused.text
    page = desk.get(link[1]).text
    assert 'value="914"' in page
    assert 'role="alert"' in page


def test_a_drone_follows_what_its_resonance_does(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    desk.done(desk.post("/drives/monday/find"))
    path = desk.folder / ".desk/found/monday.json"
    kept = json.loads(path.read_text(encoding="utf-8"))
    kept["drone_bands"][0]["locked_to"] = "unknown"
    kept["causes"] = [
        {"frequency_hz": 100.0, "bands": [1], "locked_to": "engine", "evidence": []}
        | {"suspects": [], "to_decide": []}
    ]
    path.write_text(json.dumps(kept), encoding="utf-8")
    assert '<td data-label="Follows">the engine</td>' in desk.get("/drives/monday").text


def test_several_drones_of_one_resonance_are_said_to_be_one_above_the_list(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    desk.done(desk.post("/drives/monday/find"))
    path = desk.folder / ".desk/found/monday.json"
    kept = json.loads(path.read_text(encoding="utf-8"))
    kept["drone_bands"] *= 2
    told = "One resonance at 100.0 Hz, not 2 drones"
    cause = {"frequency_hz": 100.0, "bands": [1, 2], "locked_to": "engine", "evidence": [told]}
    kept["causes"] = [cause | {"suspects": [], "to_decide": []}]
    path.write_text(json.dumps(kept), encoding="utf-8")
    page = desk.get("/drives/monday").text
    assert 0 < page.find(told) < page.index("Every drone found")
