"""What is odd about a car is told; what is not, is not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.describe.odd import odd_in, said_of_pipes
from analysis.exhaust.car import Car, parse_car, read_car
from analysis.words.sentences import first_clause
from tests.command_line import CAR


def car(sections: str, **more: object) -> Car:
    """A six with pieces such as 'pipe 1.6 m 60.2 mm', and room or gas."""
    words = [line.split() for line in sections.split(",")]
    pieces = [
        {"kind": kind, "length": f"{a} {b}", "inner_diameter": f"{c} {d}"}
        for kind, a, b, c, d in words
    ]
    gas = {key: value for key, value in more.items() if key.endswith("temperature")}
    room = {key: value for key, value in more.items() if key not in gas}
    exhaust = {"section": pieces, **gas}
    return parse_car({"engine": {"cylinders": 6}, "exhaust": exhaust, "room": room})


GOOD = "pipe 1.6 m 60.2 mm, muffler 0.45 m 180 mm, pipe 1.97 m 60.2 mm"


@pytest.mark.parametrize(
    ("odd", "code", "says"),
    [
        (car(GOOD.replace("180 mm", "75 mm")), "muffler_as_narrow_as_pipe", "Piece 2"),
        # a place that assumes a first pipe of 1.6 m
        (
            car(GOOD.replace("1.6 m", "0.9 m"), places=[["0.3 m", "1.4 m"]]),
            "place_over_muffler",
            "900 mm",
        ),
        # 2 1/2 in tube of 0.065 in wall is 2.37 in inside: common practice, no source
        (car("pipe 1.6 m 63.5 mm"), "outside_diameter", "2.37 in"),
        (car(GOOD.replace("0.45 m", "0.05 m")), "length_of_muffler", "Piece 2"),
        (
            car(f"catalyst 0.3 m 110 mm, {GOOD}", places=[["0.1 m", "1.4 m"]]),
            "room_before_catalyst",
            "300 mm",
        ),
        (car(f"{GOOD}, pipe 1 m 40 mm"), "step_of_pipe", "Pieces 3 and 4"),
        (car("pipe 160 mm 60.2 mm"), "whole_length", "160 mm"),
        (car(GOOD.replace("1.97", "9.7")), "whole_length", "11.75 m"),
        (car(GOOD, longest_branch="5 m"), "room_longer_than_pipe", "5.00 m"),
        (car(GOOD, inlet_gas_temperature="120 degC"), "gas_is_skin", "skin"),
    ],
)
def test_odd(odd: Car, code: str, says: str) -> None:
    (doubt,) = (doubt for doubt in odd_in(odd) if doubt.code == code)
    assert says in doubt.message
    assert len(first_clause(doubt.message).split()) > 5  # it says something where only it is shown


def test_nothing_is_odd_about_a_usual_car() -> None:
    assert odd_in(read_car(Path(CAR))) == ()
    assert odd_in(parse_car({"engine": {"cylinders": 4}})) == ()
    # the inside of the commonest inch tube, and rounded to the millimetre
    for bore in ("2.37 in", "60 mm", "60.2 mm", "48 mm"):
        assert odd_in(car(GOOD.replace("60.2 mm", bore))) == ()


def test_two_pipes_alike_are_told_once() -> None:
    piece = {"kind": "pipe", "length": "1.6 m", "inner_diameter": "63.5 mm"}
    legs = [
        {"name": "left", "from": "bank 1", "section": [piece]},
        {"name": "right", "from": "bank 2", "like": "left"},
    ]
    two = parse_car({"engine": {"cylinders": 8}, "exhaust": {"leg": legs}})
    told = odd_in(two)
    assert [doubt.code for doubt in told] == ["outside_diameter"]
    assert told[0].message.startswith("left: ")
    assert first_clause(told[0].message).startswith("left: Piece 1 may be told by its outside")
    assert said_of_pipes(two) == ()


def test_what_a_sizing_cannot_do_is_said_before_it_is_asked_for() -> None:
    piece = {"kind": "pipe", "length": "1.6 m", "inner_diameter": "60.2 mm"}
    legs = [{"name": name, "from": "all", "section": [piece]} for name in ("one", "other")]
    places = [
        {"leg": "one", "from": "0.1 m", "to": "0.5 m"},
        {"leg": "other", "from": "0.8 m", "to": "1.2 m"},
    ]
    apart = {"engine": {"cylinders": 8}, "exhaust": {"leg": legs}, "room": {"place": places}}
    assert [doubt.code for doubt in said_of_pipes(parse_car(apart))] == ["cannot_be_sized"]
    assert said_of_pipes(parse_car({"engine": {"cylinders": 8}}))[0].code == "how_many_pipes"
    assert said_of_pipes(parse_car({"engine": {"cylinders": 4}})) == ()
