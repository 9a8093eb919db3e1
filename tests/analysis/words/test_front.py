"""The same sentence for somebody at a terminal, and for somebody at the desk."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from pathlib import Path

import pytest

from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.plan import BuildWishes, plan_build
from analysis.words.front import at_the_desk, here, in_desk_words
from tests.analysis.build.sheets.printed import Printed
from tests.analysis.report.sized_examples import branch, sizing

DESK = Path(__file__).resolve().parents[3] / "logger" / "desk"
COMMAND = re.compile(r"pipenote (car|compare|find|import|record|report|size)\b|--[a-z]+")


def sheets() -> str:
    build = plan_build(sizing(branch(position_m=None)), BuildWishes())
    return Printed(build_sheets(build, PAPERS["a4"])).text


def test_sheets_made_at_the_desk_name_no_command() -> None:
    assert COMMAND.search(sheets())
    with at_the_desk():
        assert not COMMAND.search(sheets())


@pytest.mark.parametrize(
    ("told", "at_desk"),
    [
        ("Log it, compare it with this one: that", "Log it, compare the two under Prove: that"),
        ("Describe the exhaust in a car file: then", "Describe the exhaust under Car: then"),
        ("if it differs, give --wall.", "if it differs, give “Wall of the pipe”."),
        ("needs --time-column or --rpm-unit", "needs “Time column” or “Rpm unit”"),
        ("PIPENOTE FIND, --WALL", "“Find the drone”, “Wall of the pipe”"),
        ("a --wallpaper", "a --wallpaper"),
    ],
)
def test_screens_and_fields_stand_for_commands_and_options(told: str, at_desk: str) -> None:
    assert here(told) == told
    assert in_desk_words(told).startswith(at_desk)
    # a sheet asks for its lines anew once it has broken them
    assert in_desk_words(in_desk_words(told)) == in_desk_words(told)


def test_every_field_that_is_named_is_on_a_form() -> None:
    forms = " ".join(
        each.read_text(encoding="utf-8")
        for each in (*DESK.rglob("*.j2"), *DESK.rglob("screens/*.py"))
    )
    for option in ("--built", "--longest-branch", "--rpm-at", "--idle-rpm", "--room", "--tube"):
        assert in_desk_words(option).strip("“”") in forms
