"""Where inches are chosen at the desk, its own pages show inches too, as its reports do."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import html
import re

import pytest

from tests.logger.desk.opened import Opened

_METRIC = re.compile(r"\d ?(?:mm|cm|m)\b|degC|°C")
CAR = {"engine": "petrol", "cylinders": "6", "pipes": "one pipe"}


def words_of(page: str) -> str:
    """What a person reads of a page but its choices, and the question of the unit itself."""
    page = page.replace("1.6 m, 63 in or 5 ft 3 in go too", "")
    shown = re.sub(r"<(title|script|style)\b.*?</\1>|<option.*?</option>", " ", page, flags=re.S)
    return html.unescape(re.sub(r"<[^>]*>", " ", shown))


@pytest.mark.parametrize("page", ["/drives/baseline", "/bring-in", "/record", "/prove", "/cars"])
def test_no_page_says_millimetres_where_inches_are_chosen(desk: Opened, page: str) -> None:
    desk.post("/demo")
    assert _METRIC.search(words_of(desk.get(page).text)) is not None, "nothing is looked for"
    desk.post("/units", data={"units": "inch"})
    assert _METRIC.findall(words_of(desk.get(page).text)) == []


def test_a_car_is_drawn_and_doubted_in_inches(desk: Opened) -> None:
    desk.post("/units", data={"units": "inch"})
    told = CAR | {"units": "inches", "pipe.1": "pipe, 20, 2.37", "gas": "200 degF, 100 degF"}
    page = words_of(desk.post("/cars", data=told).text)
    assert "All pieces together are 20 in; most cars have 39 in to 276 in" in page
    assert "told colder than 302 °F" in page
    assert _METRIC.findall(page) == []


@pytest.mark.parametrize("slip", ["pipe", "pip, 63, 2.37", "pipe, 63"])
def test_a_slip_in_a_piece_is_answered_in_inches(desk: Opened, slip: str) -> None:
    desk.post("/units", data={"units": "inch"})
    page = words_of(desk.post("/cars", data=CAR | {"units": "inches", "pipe.1": slip}).text)
    assert "for example: pipe, 63, 2.37" in page
    assert _METRIC.findall(page) == []


@pytest.mark.parametrize(
    ("units", "tape", "paper"), [("inch", "inches", "letter"), ("metric", "millimetres", "a4")]
)
def test_forms_begin_in_the_units_chosen(desk: Opened, units: str, tape: str, paper: str) -> None:
    desk.post("/demo")
    desk.post("/units", data={"units": units})
    page = desk.get("/cars").text
    assert f'value="{tape}" selected' in page
    assert "this one is needed" not in page  # nobody has begun yet
    assert f'value="{paper}" selected' in desk.get("/drives/baseline").text


@pytest.mark.parametrize(("units", "option"), [("inch", "2 3/8 in"), ("metric", "2 3/8 mm")])
def test_a_bare_length_is_in_the_unit_chosen(desk: Opened, units: str, option: str) -> None:
    desk.post("/demo")
    desk.post("/units", data={"units": units})
    told = {"baseline": "baseline", "postfix": "postfix", "measured": "sleeve", "built_1": "2 3/8"}
    started = desk.post("/prove", data=told)
    assert f"--built=sleeve {option}" in html.unescape(started.text)
    desk.stop(started)
    wishes = {"longest": "2 3/8", "wall": "16 gauge", "room_out": "2 3/8", "room_along": "3 ft"}
    started = desk.post("/drives/baseline/size", data=wishes)
    assert f"--longest-branch={option}" in html.unescape(started.text)
    assert "--wall=16 gauge" in html.unescape(started.text)
    assert f"--room '{option}' '3 ft'" in html.unescape(started.text)
    desk.stop(started)


def test_a_bare_length_has_no_unit_where_none_was_chosen(desk: Opened) -> None:
    desk.post("/demo")
    told = {"baseline": "baseline", "postfix": "postfix", "built_1": "2 3/8"}
    started = desk.post("/prove", data={**told, "measured": "length"})
    assert "--built=2 3/8'" in html.unescape(started.text)
    desk.stop(started)
