"""The car on the desk: typed on a form, written, changed; nothing typed is lost."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from pathlib import Path

import pytest

from analysis.exhaust.car import read_car
from analysis.exhaust.pipes import exhaust_line
from tests.logger.desk.opened import Opened

ANSWERS = {"units": "millimetres", "engine": "petrol", "cylinders": "6", "pipes": "one pipe"}


def test_each_answer_brings_the_questions_that_follow(desk: Opened) -> None:
    assert "How do the cylinders stand" not in desk.get("/cars").text
    page = desk.post("/cars", data=ANSWERS | {"pipe.1": "pipe, 1600, 63.5"}).text
    assert "outside or inside?" in page
    assert "an empty can" in page
    page = desk.post("/cars", data=ANSWERS | {"pipe.1": "pipe, 1600, 60"}).text
    assert "How do the cylinders stand" in page
    assert 'name="pipe.2"' in page
    assert "<svg" in page
    assert "1600 mm" in page


def test_an_answer_that_cannot_be_meant_is_told_beside_it(desk: Opened) -> None:
    page = desk.post("/cars", data=ANSWERS | {"cylinders": "lots", "write": "1", "name": "a"}).text
    assert 'value="lots"' in page
    assert 'role="alert"' in page
    assert list(desk.folder.glob("*.toml")) == []


def test_a_slip_in_one_answer_leaves_the_drawing(desk: Opened) -> None:
    told = ANSWERS | {"pipe.1": "pipe, 1600, 60", "gas": "hot"}
    page = desk.post("/cars", data=told).text
    assert 'role="alert"' in page
    assert "1600 mm" in page
    assert "<svg" in page


def written(desk: Opened) -> Path:
    told = ANSWERS | {"pipe.1": "pipe, 1600, 60", "name": "mine", "write": "1"}
    page = desk.post("/cars", data=told)
    assert page.url.path == "/cars/mine.toml", page.text
    return desk.folder / "mine.toml"


def began_from(page: str) -> str:
    found = re.search(r'name="began_from" value="(\w+)"', page)
    assert found is not None, page
    return found[1]


def test_a_car_file_is_written_and_nothing_is_replaced_unasked(desk: Opened) -> None:
    file = written(desk)
    assert "<svg" in desk.get("/cars/mine.toml").text
    assert "cylinders = 6" in file.read_text(encoding="utf-8")
    again = ANSWERS | {"pipe.1": "pipe, 1600, 60", "name": "mine", "write": "1"}
    assert desk.post("/cars", data=again).status_code == 400


def test_a_page_that_is_loaded_again_shows_what_was_typed(desk: Opened) -> None:
    desk.post("/cars", data=ANSWERS | {"pipe.1": "pipe, 1600, 60"})
    assert 'value="pipe, 1600, 60"' in desk.get("/cars").text
    desk.post("/cars", data={"anew": "1"})
    assert 'value="pipe, 1600, 60"' not in desk.get("/cars").text
    desk.post("/cars", data=ANSWERS)
    written(desk)
    assert "cylinders stand" not in desk.get("/cars").text  # it is written: begin anew


def test_a_car_is_changed_on_the_form_it_came_from(desk: Opened) -> None:
    file = written(desk)
    assert "/cars?change=mine.toml" in desk.get("/cars/mine.toml").text
    form = desk.get("/cars?change=mine.toml").text
    assert 'value="pipe, 1600, 60"' in form
    told = {"changes": "mine.toml", "began_from": began_from(form), "write": "1"}
    page = desk.post("/cars", data=ANSWERS | told | {"pipe.1": "pipe, 1700, 60"})
    assert page.url.path == "/cars/mine.toml", page.text
    assert "1700 mm" in file.read_text(encoding="utf-8") or "1700 mm" in page.text
    refused = desk.post("/cars", data=ANSWERS | told | {"pipe.1": "pipe, 1800, 60"})
    assert "was changed meanwhile" in refused.text
    assert 'value="pipe, 1800, 60"' in refused.text
    file.write_text("[engine]\ncylinders = 4\n", encoding="utf-8")
    assert "/cars?change" not in desk.get("/cars/mine.toml").text  # no longer what the form said


def test_text_of_a_car_is_saved_only_when_it_can_be_read(desk: Opened) -> None:
    file = written(desk)
    first = began_from(desk.get("/cars/mine.toml").text)
    told = {"text": "[engine]\r\ncylinders = 4", "began_from": first}
    desk.post("/cars/mine.toml", data=told)
    assert file.read_bytes() == b"[engine]\ncylinders = 4\n"
    told = {"text": "[engine\ncylinders = 5", "began_from": first}
    assert "was changed meanwhile" in desk.post("/cars/mine.toml", data=told).text
    told["began_from"] = began_from(desk.get("/cars/mine.toml").text)
    page = desk.post("/cars/mine.toml", data=told)
    assert "Not saved" in page.text
    assert "cylinders = 5" in page.text
    assert file.read_bytes() == b"[engine]\ncylinders = 4\n"


EIGHT = {"units": "inches", "engine": "petrol", "cylinders": "8", "layout": "cross-plane V"}
HOW_MANY = "How many pipes does this exhaust have?"


@pytest.mark.parametrize("pipes", ["one pipe", "two pipes"])
def test_what_was_answered_is_not_asked_again_of_two_banks(desk: Opened, pipes: str) -> None:
    told = EIGHT | {"pipes": pipes}
    assert HOW_MANY not in desk.post("/cars", data=told).text
    first = "pipe.1" if pipes == "one pipe" else "left.1"
    told |= {first: "pipe, 63, 2.37", "alike": "yes", "places": "12 to 55"}
    assert HOW_MANY not in desk.post("/cars", data=told).text
    page = desk.post("/cars", data=told | {"name": "mine", "write": "1"})
    assert page.url.path == "/cars/mine.toml", page.text
    assert HOW_MANY not in page.text
    car = read_car(desk.folder / "mine.toml")
    line = exhaust_line(car)
    assert line is not None
    assert [len(pipe.places_m) for pipe in line.pipes] == [1] * (1 if pipes == "one pipe" else 2)


def test_who_does_not_know_how_many_pipes_is_told_without_code(desk: Opened) -> None:
    told = EIGHT | {"pipes": "", "pipe.1": "pipe, 63, 2.37"}
    page = desk.post("/cars", data=told).text
    assert HOW_MANY in page
    assert "Say under Car how the pipes run" in page
    assert "exhaust.leg" not in page


def test_the_page_of_a_car_repeats_what_no_drawing_shows(desk: Opened) -> None:
    told = EIGHT | {"pipes": "one pipe", "range": "1200 to 3600", "room": "43, 4 3/4"}
    told |= {"pipe.1": "pipe, 63, 2.37", "pipe.2": "muffler, 18, 7", "pipe.2.type": ""}
    told |= {"beside": "8", "gas": "840 degF, 390 degF"}
    desk.post("/units", data={"units": "inch"})
    page = desk.post("/cars", data=told | {"name": "mine", "write": "1"}).text
    for said in (
        "8 cylinders, 4-stroke, cross-plane V",
        "1,200 to 3,600 rpm",
        "piece 2: what is inside is unknown, so all types count",
        "a branch of at most 43 in",
        "8 in out from the pipe",
        "at the collector 840 °F",
    ):
        assert said in page


def test_not_to_know_what_is_inside_is_one_choice(desk: Opened) -> None:
    told = EIGHT | {"pipes": "one pipe", "pipe.1": "muffler, 18, 7"}
    page = desk.post("/cars", data=told).text
    assert page.count("all of them count") == 1
    # as answers kept by an earlier pipenote say it
    answer = desk.post("/cars", data=told | {"pipe.1.type": "unknown", "name": "a", "write": "1"})
    assert answer.url.path == "/cars/a.toml", answer.text


def test_the_car_that_is_described_comes_before_another(desk: Opened) -> None:
    """The page looked as if nothing had been told: an empty form below a small link."""
    another = "Describe another car"
    assert another not in desk.get("/cars").text
    (desk.folder / "mine.toml").write_text("[engine]\ncylinders = 6\n", encoding="utf-8")
    page = desk.get("/cars").text
    assert page.index('href="/cars/mine.toml">Open mine.toml</a>') < page.index(another)
    assert page.index(another) < page.index('id="asked"')
    desk.post("/cars", data={"cylinders": "8"})  # begun, so it is gone on with
    assert another not in desk.get("/cars").text


def test_sheets_to_fill_in_under_the_car_are_made_by_a_button(desk: Opened) -> None:
    started = desk.post("/cars/blank")
    assert "pipenote car --blank" in started.text
    page = desk.done(started)
    assert page.url.path == "/cars", page.text
    link = re.search(r'href="(/reports/[^"]+)">Sheets to fill in', page.text)
    assert link is not None, page.text
    assert desk.get(link[1]).content.startswith(b"%PDF-")
