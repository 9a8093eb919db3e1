"""Two pipes alike: what one pipe is told holds for both, and every branch to weld is listed."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import json
import tomllib
from dataclasses import replace

import jsonschema
from rich.console import Console

from analysis.answers.documents import result_schema
from analysis.answers.sizing_document import sizing_document
from analysis.build.sheets.cut_list import cut_list_sheet
from analysis.build.workshop.plan import BuildWishes, plan_build
from analysis.exhaust.car import parse_car
from analysis.size.from_findings import request_for_frequency
from logger.command.tables.size import size_text
from tests.analysis.exhaust.test_legs import LINK, TWO_PIPES
from tests.analysis.report.sized_examples import sizing


def test_a_pair_on_two_pipes_is_listed_as_two() -> None:
    both = replace(sizing(), legs=("left", "right"))
    document = json.loads(json.dumps(sizing_document(both), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    assert [branch["leg"] for branch in document["branches"]] == ["left", "right"]
    assert len({branch["position_mm"] for branch in document["branches"]}) == 1
    alone = json.loads(json.dumps(sizing_document(sizing()), allow_nan=False))
    assert [branch["leg"] for branch in alone["branches"]] == [None]


def test_screen_and_sheets_say_one_on_each() -> None:
    both = replace(sizing(), legs=("left", "right"))
    console = Console(file=io.StringIO(), width=300)
    console.print(size_text(both))
    assert isinstance(console.file, io.StringIO)
    assert "one on each: left and right" in console.file.getvalue()
    plan = plan_build(both, BuildWishes()).branches[0]
    assert "buy and cut all of this 2 times" in cut_list_sheet(plan, "the branch", both.legs).about
    assert "times" not in cut_list_sheet(plan, "the branch").about


def test_the_request_carries_the_pipes_and_the_word_that_both_need_a_branch() -> None:
    car = parse_car(tomllib.loads(TWO_PIPES.replace(LINK, "")))
    request = request_for_frequency(frequency_hz=120.0, engine_order=4.0, car=car)
    assert request.line is not None
    assert request.line.legs == ("left", "right")
    assert [doubt.code for doubt in request.doubts] == ["one_on_each_pipe"]
