"""Questions in the words of the garage, answers as people type them, a car file from both."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.describe.car_table import car_table
from analysis.describe.car_text import car_text
from analysis.describe.interview import kept_answers, so_far, with_answer, without_last
from analysis.describe.questions import next_question
from analysis.errors import CarError
from analysis.exhaust.car import Car, parse_car
from analysis.exhaust.pipes import exhaust_line
from analysis.exhaust.sections import KINDS, MUFFLERS
from tests.analysis.describe.answered import answered, asked, table_of

# units, engine, cylinders, layout, engine speeds, pipes; then the pieces; then room and gas
SIX = ["millimetres", "", "6", "inline", "1200 to 3600", "one pipe"]
PIECES = ["pipe, 1.6 m, 60.2 mm", "muffler, 450, 180", "three-pass", "pipe 1970 60.2", ""]
REST = ["0.3 m to 1.4 m, 2200 - 3700", "1 m", "250", "450 degC, 200 °C"]


def car_of(typed: list[str]) -> Car:
    """The car, by way of the text of its file."""
    table = table_of(typed)
    text = car_text(table)
    assert tomllib.loads(text) == table
    return parse_car(tomllib.loads(text))


def test_one_pipe() -> None:
    car = car_of([*SIX, *PIECES, *REST])
    assert car.engine.firing_order == 3.0
    assert car.layout == "inline"
    assert car.driving_range_rpm == (1200.0, 3600.0)
    assert [section.length_m for section in car.sections] == pytest.approx([1.6, 0.45, 1.97])
    assert [section.kind.takes_branch for section in car.sections] == [True, False, True]
    assert car.sections[1].kind is MUFFLERS["three-pass"]
    assert car.sections[1].inner_diameter_m == pytest.approx(0.177)  # of a shell of 180 mm
    assert car.places_m == ((0.3, 1.4), (2.2, 3.7))
    assert car.longest_branch_m == 1.0
    assert car.widest_branch_m is None
    assert car.beside_m == 0.25
    assert car.outlet_gas_k is not None
    assert car.outlet_gas_k.low == pytest.approx(473.15)


def test_in_inches() -> None:
    """Inch and foot in metres: exact, by definition."""
    typed = ["inches", "1", "V8", "cross-plane V", "", "one pipe"]
    pieces = ["pipe, 63, 2.37", 'muffler, 17 3/4 in x 7"', "", "pipe, 6 ft 5 1/2 in, 2.37", ""]
    car = car_of([*typed, *pieces, "12 to 55", "43, 4 3/4", "", ""])
    sizes = [(section.length_m, section.inner_diameter_m) for section in car.legs[0].sections]
    inches = [(63.0, 2.37), (17.75, 7.0 - 0.003 / 0.0254), (77.5, 2.37)]  # a shell's two walls
    assert sizes == [pytest.approx((0.0254 * a, 0.0254 * b), abs=2e-5) for a, b in inches]
    assert car.leg_places[0].span_m == pytest.approx((0.3048, 1.397))
    assert car.legs[0].fed_by == ("all",)  # said to be one, so nobody asks how many there are
    assert car.widest_branch_m == pytest.approx(0.12065)


def test_nobody_knows_more_than_the_cylinders() -> None:
    car = car_of(["", "", "4", *[""] * 7])
    assert car == parse_car({"engine": {"cylinders": 4}})


@pytest.mark.parametrize(
    ("kind", "count", "layout", "order"),
    [
        # pulses per turn: cylinders over two turns with four strokes, over one with two; a rotor
        # fires once in a turn of its shaft (Heywood 1988, from memory)
        ("petrol", "1", None, 0.5),
        ("petrol", "2", "odd-fire V", 1.0),
        ("petrol", "4", "boxer", 2.0),
        ("petrol", "9", "radial", 4.5),
        ("petrol", "16", "V (even fire)", 8.0),
        ("diesel", "5", "inline", 2.5),
        ("two-stroke", "3", "inline", 3.0),
        ("rotary", "2", None, 2.0),
    ],
)
def test_any_engine(kind: str, count: str, layout: str | None, order: float) -> None:
    pipes = [] if count == "1" else [""]
    typed = ["", kind, count, *([layout] if layout else []), "", *pipes, *[""] * 4]
    car = car_of(typed)
    assert car.engine.firing_order == order
    assert car.layout == ("rotary" if kind == "rotary" else layout)


def test_a_diesel_nobody_measured_has_cooler_gas() -> None:
    typed = ["", "diesel", "4", *[""] * 6]
    assumed, measured = car_of([*typed, ""]), car_of([*typed, "300 degC"])
    assert assumed.inlet_gas_k is not None
    assert (assumed.inlet_gas_k.low, assumed.inlet_gas_k.high) == pytest.approx((473.15, 723.15))
    assert measured.inlet_gas_k is not None
    assert measured.inlet_gas_k.low == pytest.approx(573.15)
    assert measured.outlet_gas_k is None


EIGHT = ["millimetres", "petrol", "8", "cross-plane V", ""]
HALF = ["pipe, 1700, 54.1", "muffler, 450, 180", "", "pipe, 1200, 54.1", ""]


def test_two_pipes_alike_can_be_sized() -> None:
    car = car_of([*EIGHT, "two pipes", *HALF, "yes", "no", "300 to 1600", "", "", ""])
    assert [(leg.name, leg.fed_by) for leg in car.legs] == [
        ("left", ("bank 1",)),
        ("right", ("bank 2",)),
    ]
    assert car.legs[0].sections == car.legs[1].sections
    line = exhaust_line(car)
    assert line is not None
    assert line.pipes[0].places_m == ((0.3, 1.6),)


def test_two_pipes_unlike_with_a_balance_pipe() -> None:
    other = ["pipe, 1500, 54.1", "glasspack, 450, 180", "pipe, 1300, 54.1", ""]
    link = ["balance pipe", "900", "250, 40"]
    car = car_of([*EIGHT, "two pipes", *HALF, "no", *other, *link, *[""] * 4])
    assert car.legs[1].sections[0].length_m == pytest.approx(1.5)
    assert car.legs[1].sections[1].kind is MUFFLERS["straight-through"]
    (joined,) = car.links
    assert (joined.kind, joined.between) == ("balance pipe", ("left", "right"))
    assert joined.at_m == (0.9, 0.9)
    assert (joined.length_m, joined.inner_diameter_m) == pytest.approx((0.25, 0.04))


def test_an_x() -> None:
    car = car_of([*EIGHT, "two pipes", *HALF, "", "x", "0.9 m", *[""] * 4])
    assert [(link.kind, link.at_m) for link in car.links] == [("x", (0.9, 0.9))]


def test_two_pipes_that_join_and_one_that_splits() -> None:
    front, rest = ["pipe, 900, 54", ""], ["", "", ""]
    joined = car_of([*EIGHT, "two that join", *front, "yes", *HALF, "0 to 1500", *rest])
    assert [leg.name for leg in joined.legs] == ["left", "right", "rear"]
    assert joined.legs[2].fed_by == ("left", "right")
    assert joined.leg_places[0].leg == "rear"
    split = car_of([*EIGHT, "one that splits", *HALF, *front, "yes", "", *rest])
    assert [(leg.name, leg.fed_by) for leg in split.legs] == [
        ("front", ("all",)),
        ("left", ("front",)),
        ("right", ("front",)),
    ]


@pytest.mark.parametrize(
    "typed",
    [
        *("pipe, 1600, 60.2", "pipe 1600 60.2", "Pipe 1,6 m, 60,2 mm", "pipe: 1600 x 60.2"),
        *("pipe; 1.6m; 60.2mm", "pipe 160 cm long, 60.2 mm wide", "pipe 1600mm by 60.2mm"),
        *("pipe 5 ft 3 in, 2.37 in", 'pipe, 5\' 3", 2.37"', "pipe 63 in 2.37 in"),
    ],
)
def test_a_piece_as_people_write_it(typed: str) -> None:
    answers, _ = asked([*SIX, typed])
    (section,) = parse_car(car_table(answers)).sections
    assert section.length_m == pytest.approx(1.6, abs=0.001)
    assert section.inner_diameter_m == pytest.approx(0.0602, abs=0.0001)


@pytest.mark.parametrize(
    ("typed", "kind", "made"),
    [
        ("silencer", "muffler", ""),
        ("Glasspack", "muffler", "straight-through"),
        ("resonator", "muffler", "resonator"),
        ("cat", "catalyst", ""),
        ("tube", "pipe", ""),
    ],
)
def test_a_piece_goes_by_the_words_of_the_garage(typed: str, kind: str, made: str) -> None:
    answers, _ = asked([*SIX, f"{typed}, 450, 180"])
    (section,) = parse_car(car_table(answers)).sections
    assert section.kind is (MUFFLERS[made] if made else KINDS[kind])


@pytest.mark.parametrize(
    ("before", "typed", "says"),
    [
        ([], "feet", "numbers 1 to 2"),
        (["", ""], "", "needed"),
        (["", ""], "0", "1 to 16"),
        (["", ""], "6.5", "1 to 16"),
        (["", ""], "six", "1 to 16"),
        (["", "", "6"], "W", "numbers 1 to"),
        (SIX[:4], "3600 to 1200", "rise"),
        (SIX[:4], "fast", "1200 to 3600"),
        (SIX, "1.6 m", "what it is"),
        (SIX, "hose, 1.6 m, 60 mm", "pipe, muffler"),
        (SIX, "pipe, 1.6 m", "two sizes"),
        (SIX, "pipe, 1.6, 60", "check the number and the unit"),  # in millimetres
        (SIX, "pipe, 1.6 m, 60 m", "check the number and the unit"),
        (["", *SIX[1:]], "pipe, 1600, 60", "has no unit"),
        ([*SIX, *PIECES], "1.4 m", "from where to where"),
        ([*SIX, *PIECES], "0.3 m to 4.4 m", r"add up to 4\.020 m"),
        ([*SIX, *PIECES, ""], "1 mile", "unit that is not known"),
        ([*SIX, *PIECES, "", ""], "25 m", "beside"),
        ([*SIX, *PIECES, "", "", ""], "450", "no unit"),
        ([*SIX, *PIECES, ""], "1 m, 2 m, 3 m", "one or two"),
        ([*SIX, *PIECES, "", "", ""], "200 degC, 450 degC", "cools on its"),
    ],
)
def test_an_answer_that_cannot_be_meant_is_asked_again(
    before: list[str], typed: str, says: str
) -> None:
    answers, question = asked(before)
    assert question is not None
    with pytest.raises(CarError, match=says):
        with_answer(answers, question, typed)


def test_one_step_back_and_on_again() -> None:
    whole = answered([*SIX, *PIECES, *REST])
    back = without_last(without_last(whole))
    assert list(whole)[-2:] == ["beside", "gas"]
    assert list(back) == list(whole)[:-2]
    question = next_question(back)
    assert question is not None
    assert question.key == "beside"


@pytest.mark.parametrize("tape", ["millimetres", "inches", ""])
def test_every_example_can_be_typed_as_it_stands(tape: str) -> None:
    """In the unit of the tape: who reads millimetres is not shown metres."""
    answers: dict[str, str] = {}
    told = {"units": tape, "cylinders": "8", "pipes": "two pipes", "link": "balance pipe"}
    told["left.1"] = "pipe, 5 m, 60 mm"  # as long as all the examples reach
    examples = 0
    while (question := next_question(answers)) is not None:
        example = question.hint.partition("xample: ")[2].rstrip(".")
        typed = told.get(question.key, example)
        examples += bool(example)
        assert not (tape == "millimetres" and re.search(r"[0-9] m\b", example))
        answers = with_answer(answers, question, typed)
    assert examples == 8


def test_kept_answers_go_on_where_they_still_make_sense() -> None:
    whole = answered([*SIX, *PIECES, *REST])
    assert kept_answers(whole) == whole
    assert list(kept_answers({**whole, "cylinders": "many"})) == ["units", "engine"]


@pytest.mark.parametrize("other", [{"units": 3}, [], None, "units"])
def test_what_holds_no_answers_is_refused(other: object) -> None:
    with pytest.raises(CarError):
        kept_answers(other)


def test_each_piece_tells_the_running_total() -> None:
    answers = answered([*SIX, *PIECES, *REST])
    assert so_far(answers, "pipe.3") == "From 2050 mm (80 11/16 in) to 4020 mm (158 1/4 in)."
    assert so_far(answers, "pipe.4") == so_far(answers, "units") == ""


@settings(max_examples=60)
@given(st.lists(st.text(max_size=30) | st.sampled_from([*SIX, *HALF, *REST]), max_size=25))
def test_whatever_is_typed_is_taken_or_refused_in_one_line(lines: list[str]) -> None:
    answers: dict[str, str] = {}
    refusals: list[str] = []
    for line in lines:
        question = next_question(answers)
        if question is None:
            break
        try:
            answers = with_answer(answers, question, line)
        except CarError as error:
            refusals.append(str(error))
    assert not any("\n" in said for said in refusals)
    table = car_table(answers)
    assert tomllib.loads(car_text(table)) == table
