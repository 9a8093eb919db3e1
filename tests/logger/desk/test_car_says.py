"""What the car says already stands in the fields that ask for it again."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import re

import pytest

from tests.logger.desk.opened import Opened

CAR = """
[engine]
cylinders = 8

[room]
longest_branch = "43 in"
beside = "8 in"

[[exhaust.section]]
kind = "pipe"
length = "63 in"
inner_diameter = "2.37 in"
"""


def shown_in(page: str, field: str) -> str:
    found = re.search(rf'<input id="{field}"[^>]* placeholder="([^"]*)"', page)
    return "" if found is None else found[1]


def with_car(desk: Opened, name: str = "mine.toml") -> Opened:
    desk.post("/units", data={"units": "inch"})
    (desk.folder / name).write_text(CAR, encoding="utf-8")
    return desk


@pytest.mark.parametrize("page", ["/bring-in", "/record"])
def test_cylinders_that_the_car_tells_are_shown(desk: Opened, page: str) -> None:
    assert shown_in(desk.get(page).text, "cylinders") == ""
    assert shown_in(with_car(desk).get(page).text, "cylinders") == "8, says mine.toml"


def test_room_that_the_car_tells_is_shown_where_it_is_sized(desk: Opened) -> None:
    desk.post("/demo")
    page = with_car(desk, "a.toml").get("/drives/baseline").text
    assert shown_in(page, "longest") == "39 3/8 in, says the car kept with it"
    file = desk.folder / "baseline" / "session.json"
    metadata = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps({**metadata, "car": None}), encoding="utf-8")
    page = desk.get("/drives/baseline").text
    assert shown_in(page, "room_out") == "8 in, says a.toml"
    assert shown_in(page, "room_along") == "43 in, says a.toml"
    assert shown_in(page, "longest") == "43 in, says a.toml"
    assert shown_in(page, "pipe") == "2.37 in, says a.toml"


def test_a_car_that_cannot_be_read_says_nothing(desk: Opened) -> None:
    (desk.folder / "broken.toml").write_text("[engine", encoding="utf-8")
    page = desk.get("/bring-in")
    assert page.status_code == 200
    assert shown_in(page.text, "cylinders") == ""


@pytest.mark.parametrize(
    ("page", "field"),
    [("/bring-in", "cylinders"), ("/record", "cylinders"), ("/drives/baseline", "longest")],
)
def test_what_is_shown_is_of_the_car_that_is_chosen(desk: Opened, page: str, field: str) -> None:
    desk.post("/demo")
    for name in ("mine.toml", "other.toml"):
        with_car(desk, name)
        chosen = desk.get(page, params={"car": name}).text
        assert shown_in(chosen, field).endswith(f", says {name}")
    assert shown_in(desk.get(page, params={"car": "../mine.toml"}).text, field) == ""
    kept = "39 3/8 in, says the car kept with it" if field == "longest" else ""
    assert shown_in(desk.get(page, params={"car": ""}).text, field) == kept


def test_a_car_left_out_stays_left_out_on_a_form_that_was_refused(desk: Opened) -> None:
    refused = with_car(desk).post("/record", data={"name": "a/b", "car": ""}).text
    assert shown_in(refused, "cylinders") == ""
    assert 'value="mine.toml" selected' not in refused
    assert 'value="mine.toml" selected' in desk.get("/record").text
