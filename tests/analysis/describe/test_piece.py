"""A piece of the exhaust as people say it: widths inside and outside, and the words for it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from analysis.basics.units import parse_length_m
from analysis.describe.car_table import car_table
from analysis.describe.piece import inside, piece
from analysis.describe.question import Choice, Question
from analysis.describe.questions import next_question
from analysis.describe.said import one_or_two_lengths, places
from analysis.errors import CarError
from analysis.exhaust.car import parse_car
from tests.analysis.describe.answered import asked


@pytest.mark.parametrize(
    ("said", "unit", "within"),
    [
        # dealers' tables of 2 1/2 in tube with a wall of 0.065 in: 2.370 in inside; common practice
        ("pipe, 1.60 m, 2.5 inch 16 gauge", "", "2.370 in"),
        ("pipe, 1.60 m, 2.5 in, 16 ga", "", "2.370 in"),
        ("pipe, 1.60 m, 2.5 in outside, wall 0.065 in", "", "2.370 in"),
        ("pipe, 63, 2 1/2 outside, 16 gauge", "in", "2.370 in"),
        ("pipe, 1.6 m, 63.5 mm x 1.5 mm wall", "", "60.5 mm"),
        ("pipe 1600 63.5 x 1.5", "mm", "60.5 mm"),
        ("pipe, 1.6 m, 63.5 mm O.D. 1.5 mm wall", "", "60.5 mm"),
        ("pipe, 1.6 m, 60.3 mm outside", "", "57.1 mm"),
        ("pipe, 1.6 m, 60.3 mm inside", "", "60.3 mm"),
        ("pipe, 1.6 m, 60 mm", "", "60 mm"),
    ],
)
def test_a_pipe_told_by_its_outside(said: str, unit: str, within: str) -> None:
    told = piece(said, unit)
    assert inside(told) == within
    # and so it is in the car file, whose wall the sheets take
    car = parse_car({"engine": {"cylinders": 6}, "exhaust": {"section": [told]}})
    assert car.sections[0].inner_diameter_m == pytest.approx(parse_length_m(within), abs=5e-5)
    assert (car.sections[0].wall_m is None) == ("wall" not in told)


@pytest.mark.parametrize("width", ["2.5 in", '2 1/2"', "63.5 mm", "60.3 mm", "76.1 mm"])
def test_a_size_that_tube_is_sold_as_is_asked_about_at_once(width: str) -> None:
    """Inch tube, and the round pipe of ISO 4200, series 1, from memory."""
    with pytest.raises(CarError, match="outside or inside"):
        piece(f"pipe, 1.6 m, {width}", "")
    assert "inner_diameter" in piece(f"pipe, 1.6 m, {width} inside", "")


def test_a_shell_is_told_by_its_outside() -> None:
    """Two sheets of 1.5 mm are taken off, unless the inside or the wall is told."""
    for said, inside_m in (
        ("muffler, 0.45 m, 180 mm", 0.177),
        ("muffler, 0.45 m, 180 mm inside", 0.18),
        ("muffler, 0.45 m, 180 mm, 2 mm wall", 0.176),
        ("catalyst, 0.45 m, 180 mm", 0.177),
    ):
        car = parse_car({"engine": {"cylinders": 6}, "exhaust": {"section": [piece(said, "")]}})
        assert car.sections[0].inner_diameter_m == pytest.approx(inside_m)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ("pipe, 1.6 m, 60 mm, 17 gauge", "17 gauge is not known"),
        ("pipe, 1.6 m, 60 mm inside, 16 gauge", "one width"),
        ("pipe, 1.6 m, 60 mm, 20 mm wall", "more than a quarter"),
        ("pipe, 1.6, 60 mm", "metres[?] Then type 1.6 m"),
        ("pipe, 1600, 60 mm", "millimetres[?] Then type 1600 mm"),
        ("pipe, 1.6 m", "two sizes"),
        ("pipe, 1 m, 2 m, 3 m, 4 m", "two sizes"),
    ],
)
def test_what_cannot_be_meant_is_asked_for(said: str, why: str) -> None:
    with pytest.raises(CarError, match=why):
        piece(said, "")


@pytest.mark.parametrize("typed", ["empty", "5", "empty can, 0.45 m, 180 mm"])
def test_an_empty_can_is_a_chamber(typed: str) -> None:
    before = ["", "", "6", "", "", "one", "pipe, 1.6 m, 60 mm"]
    told = [typed] if "can" in typed else ["muffler, 0.45 m, 180 mm", typed]
    answers, question = asked([*before, *told])
    assert question is not None
    assert question.key == "pipe.3"
    table = car_table(answers)
    assert table["exhaust"]["section"][1]["kind"] == "chamber"  # type: ignore[index]
    parse_car(table)


def test_each_kind_is_explained_where_it_is_asked_for() -> None:
    _, question = asked(["", "", "6", "", "", ""])
    assert question is not None
    looks = {word.name: word.looks for word in question.words}
    assert set(looks) == {"pipe", "muffler", "chamber", "catalyst"}
    assert all(looks.values())
    assert looks["chamber"] == "an empty can: a pipe in and a pipe out"


@pytest.mark.parametrize(
    ("key", "typed", "meant"),
    [
        ("units", "mm", "millimetres"),
        ("engine", "gasoline", "petrol"),
        ("layout", "straight six", "inline"),
        ("layout", "flat six", "boxer"),
        ("pipes", "one", "one pipe"),
        ("pipes", "two", "two pipes"),
        ("pipes", "two that", "two that join"),
    ],
)
def test_a_choice_is_taken_by_what_people_call_it(key: str, typed: str, meant: str) -> None:
    answers = {"units": "", "engine": "", "cylinders": "6", "layout": "", "range": ""}
    before: dict[str, str] = {}
    while (question := next_question(before)) is not None and question.key != key:
        before[question.key] = answers[question.key]
    assert question is not None
    assert question.answer(typed) == meant


def test_what_two_choices_are_called_is_no_answer() -> None:
    both = tuple(Choice(name=name, also=("same",)) for name in ("one", "other"))
    with pytest.raises(CarError, match="numbers 1 to 2"):
        Question(key="k", asks="Which?", choices=both).answer("same")


def test_little_words_change_nothing() -> None:
    assert piece("a can 45 cm long, 140 mm wide", "mm") == piece("can, 45 cm, 140 mm", "mm")
    told = places("from 0.3 to 1.4 m and from 2.2 to 3.7 m", "m")
    assert told == places("0.3 to 1.4 m, 2.2 to 3.7 m", "m")
    assert one_or_two_lengths("up to 1.0 m", "mm") == one_or_two_lengths("1.0 m", "mm")
