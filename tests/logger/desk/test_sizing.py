"""A branch sized on the desk: kept as to be built, or only tried."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import html
import json
import os
import re
import shutil
from pathlib import Path
from urllib.parse import quote

import pytest

from tests.command_line import OLD_LEVELS
from tests.logger.desk.opened import Opened

ONE_BRANCH = {"schema": 1, "branches": [], "plans": []}


def monday(desk: Opened) -> Path:
    """Put a drive there, and a car file that knows its engine only."""
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    (desk.folder / "car.toml").write_text("[engine]\ncylinders = 6\n", encoding="utf-8")
    return desk.folder / "monday"


def test_a_branch_is_sized(desk: Opened) -> None:
    """By its length alone: of an exhaust that it may not cure, there are no sheets."""
    monday(desk)
    page = desk.done(
        desk.post("/drives/monday/size", data={"car": "car.toml", "branches": "1", "keep": "1"})
    )
    assert (desk.folder / "monday" / "sizing.json").is_file()
    assert page.url.path == "/drives/monday", page.text
    assert "This is kept as what you will build" in page.text
    assert 'src="/reports/monday.html"' in page.text
    assert desk.get("/reports/monday.pdf").content.startswith(b"%PDF")


def test_plans_of_what_was_kept_stand_side_by_side_each_with_its_button(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    plans = [
        {
            "name": name,
            "branches": places,
            "places": places,
            "cured_now_percent": 60 + 10 * places,
            "cured_after_one_adjustment_percent": 96 + places,
            "chosen": places == 1,
        }
        for places, name in ((1, "one branch, a place kept for a second"), (2, "two branches"))
    ]
    document = {"schema": 1, "branches": [], "plans": plans}
    (desk.folder / "monday" / "sizing.json").write_text(json.dumps(document), encoding="utf-8")
    page = " ".join(desk.get("/drives/monday").text.split())
    assert "one branch, a place kept for a second (recommended, kept)" in page
    assert "pipenote recommends one branch, a place kept for a second: the fewest welds" in page
    for button in ("plan", "build"):
        assert f'name="{button}" value="2"' in page
        assert f'name="{button}" value="1"' not in page  # it is kept already
    for places in (1, 2):
        assert f'data-label="After one adjustment">{96 + places}<' in page


def test_the_button_of_a_plan_counts_before_the_choice(desk: Opened) -> None:
    monday(desk)
    told = {"car": "car.toml", "plan": "2", "branches": "1"}
    started = desk.post("/drives/monday/size", data=told)
    assert "--branches=2" in started.text
    desk.stop(started)


def test_a_plan_that_no_wish_can_ask_for_has_no_button(desk: Opened) -> None:
    """One branch is sized with the place that it keeps, whichever row was pressed."""
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    plans = [
        {
            "name": name,
            "branches": places,
            "places": places,
            "cured_now_percent": 54,
            "cured_after_one_adjustment_percent": 75,
            "chosen": places == 2,
        }
        for places, name in ((1, "one branch"), (1, "one branch, a place kept"), (2, "two"))
    ]
    document = {"schema": 1, "branches": [], "plans": plans}
    (desk.folder / "monday" / "sizing.json").write_text(json.dumps(document), encoding="utf-8")
    buttons = re.findall('aria-label="Build this one: ([^"]*)"', desk.get("/drives/monday").text)
    assert buttons == ["one branch, a place kept"]


def test_a_plan_of_the_table_is_built_by_one_button(desk: Opened) -> None:
    monday(desk)
    started = desk.post("/drives/monday/size", data={"car": "car.toml", "build": "2"})
    assert "--branches=2 --keep" in started.text
    desk.stop(started)


def test_what_was_tried_is_built_by_one_button_as_it_was_told(desk: Opened) -> None:
    (monday(desk) / "sizing.json").write_text(json.dumps(ONE_BRANCH), encoding="utf-8")
    (reports := desk.folder / "reports").mkdir()
    (reports / "monday.html").write_text("of what was kept", encoding="utf-8")
    told = {"car": "car.toml", "plan": "1", "longest": "950 mm"}
    page = desk.done(desk.post("/drives/monday/size", data=told)).text
    form = page[page.index("Tried, and not kept") : page.index("Build this one")]
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    assert fields == {"car": "car.toml", "branches": "1", "longest": "950 mm"}
    page = desk.done(desk.post("/drives/monday/size", data=fields | {"keep": "1"})).text
    assert json.loads((desk.folder / "monday" / "sizing.json").read_bytes()) != ONE_BRANCH
    assert "Tried, and not kept" not in page
    (copy,) = reports.glob("monday, of *.html")
    assert copy.read_text(encoding="utf-8") == "of what was kept"
    assert f'href="/reports/{quote(copy.name)}"' in page
    assert 'value="950 mm"' in page  # the next plan is of the same wishes


def test_what_was_sized_and_not_kept_is_built_by_one_button(desk: Opened) -> None:
    monday(desk)
    told = {"car": "car.toml", "branches": "1"}
    page = desk.done(desk.post("/drives/monday/size", data=told)).text
    assert not (desk.folder / "monday" / "sizing.json").exists()
    assert page.index("This is not kept yet") < page.index("Build this one")


def test_what_only_scrolls_is_no_button(desk: Opened) -> None:
    """Two buttons were named alike, and the first led only to the second."""
    monday(desk)
    told = desk.folder / ".desk" / "found" / "monday.json"
    told.parent.mkdir(parents=True)
    band = {"peak_rpm": 2000.0, "peak_hz": 100.0, "low_rpm": 1900.0, "high_rpm": 2100.0}
    band |= {"rise_db": 15.0, "engine_order": 3.0, "locked_to": "engine"}  # type: ignore[dict-item]
    band["ci95"] = {"peak_hz": [96.2, 103.8]}  # type: ignore[assignment]
    told.write_text(
        json.dumps({"withheld": None, "drone_bands": [band], "causes": [], "warnings": []})
    )
    page = desk.get("/drives/monday").text
    assert "(96 to 104)" in page
    down = '<a href="/drives/monday#size">Size the branch, further down this page</a>'
    assert down in page
    assert page.count(">Size the branch<") == 1
    assert '<a class="button" href="/drives/monday#size">Size the branch</a>' in desk.get("/").text


def test_a_bare_length_is_kept_in_the_unit_it_was_told_in(desk: Opened) -> None:
    monday(desk)
    desk.post("/units", data={"units": "inch"})
    told = {"car": "car.toml", "branches": "1", "longest": "38"}
    desk.done(desk.post("/drives/monday/size", data=told))
    desk.post("/units", data={"units": "metric"})
    assert 'value="38 in"' in desk.get("/drives/monday").text


@pytest.mark.parametrize("plans", ['[{"name": 1}]', "[{}]", "{}", '[{"name": "a", "places": 9}]'])
def test_damaged_plans_are_not_shown(desk: Opened, plans: str) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    text = f'{{"schema": 1, "branches": [], "plans": {plans}}}'
    (desk.folder / "monday" / "sizing.json").write_text(text, encoding="utf-8")
    page = desk.get("/drives/monday")
    assert page.status_code == 200
    assert "Plans side by side" not in page.text


def test_a_wish_that_cannot_be_met_is_told(desk: Opened) -> None:
    shutil.copytree(OLD_LEVELS, desk.folder / "monday")
    page = desk.done(desk.post("/drives/monday/size", data={"longest": "a bit"}))
    assert "a bit" in page.text
    assert "Traceback" not in page.text
    assert not (desk.folder / "reports" / "monday.html").exists()


def test_what_is_tried_leaves_what_was_kept_as_it_was(desk: Opened) -> None:
    kept = monday(desk) / "sizing.json"
    kept.write_text(json.dumps(ONE_BRANCH), encoding="utf-8")
    reports = desk.folder / "reports"
    reports.mkdir()
    (reports / "monday.html").write_text("of what was kept", encoding="utf-8")
    page = desk.done(desk.post("/drives/monday/size", data={"car": "car.toml", "branches": "1"}))
    assert json.loads(kept.read_text(encoding="utf-8")) == ONE_BRANCH
    assert (reports / "monday.html").read_text(encoding="utf-8") == "of what was kept"
    assert 'href="/reports/monday%2C%20tried.html"' in page.text


def test_what_is_kept_in_its_place_leaves_a_copy_of_its_report(desk: Opened) -> None:
    (monday(desk) / "sizing.json").write_text(json.dumps(ONE_BRANCH), encoding="utf-8")
    reports = desk.folder / "reports"
    reports.mkdir()
    (reports / "monday.html").write_text("of what was kept", encoding="utf-8")
    told = {"car": "car.toml", "branches": "1", "keep": "1"}
    page = desk.done(desk.post("/drives/monday/size", data=told))
    assert page.url.path == "/drives/monday", page.text
    (copy,) = reports.glob("monday, of *.html")
    assert copy.read_text(encoding="utf-8") == "of what was kept"
    assert (reports / "monday.html").read_text(encoding="utf-8") != "of what was kept"


def test_sheets_of_an_earlier_sizing_are_not_offered(desk: Opened) -> None:
    monday(desk)
    (reports := desk.folder / "reports").mkdir()
    for name in ("monday.html", "monday.pdf"):
        (reports / name).touch()
    assert 'href="/reports/monday.pdf"' in desk.get("/drives/monday").text
    os.utime(reports / "monday.pdf", (0, 0))
    assert 'href="/reports/monday.pdf"' not in desk.get("/drives/monday").text


def test_a_wish_that_is_refused_is_shown_again_to_be_mended(desk: Opened) -> None:
    monday(desk)
    told = {"car": "car.toml", "longest": "914", "gas": "120..220 degC"}
    refused = desk.done(desk.post("/drives/monday/size", data=told))
    link = re.search(r'href="(/drives/monday\?errand=\w+)"', refused.text)
    assert link is not None, refused.text
    page = desk.get(link[1]).text
    assert 'value="914"' in page
    assert 'value="120..220 degC"' in page
    assert "“Room for a branch”: length '914' has no unit" in html.unescape(page)


def test_lengths_are_shown_as_the_desk_was_told(desk: Opened) -> None:
    monday(desk)
    started = desk.post("/drives/monday/find")
    assert "--units=both" in started.text
    desk.stop(started)
    desk.post("/units", data={"units": "metric"})
    started = desk.post("/drives/monday/find")
    assert "--units=metric" in started.text
    desk.stop(started)
    desk.post("/units", data={"units": "../x"})
    assert desk.get("/").text.count('value="metric" selected') == 1


def test_the_box_for_a_bent_branch_is_asked_for_beside_its_length(desk: Opened) -> None:
    """Every car has other room, so nobody should have to unfold a list to say so."""
    monday(desk)
    page = desk.get("/drives/monday").text
    form = page[page.index('name="longest"') : page.index("More wishes")]
    assert 'name="room_out"' in form
    assert 'name="room_along"' in form


def test_half_a_box_is_asked_about_and_not_ignored(desk: Opened) -> None:
    monday(desk)
    told = {"car": "car.toml", "room_out": "250 mm"}
    refused = desk.done(desk.post("/drives/monday/size", data=told))
    assert "“Room beside the pipe”" in html.unescape(refused.text)
    assert not (desk.folder / "reports" / "monday.html").exists()
