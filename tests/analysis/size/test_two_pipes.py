"""Two pipes alike: what one pipe is told holds for both, and every branch to weld is listed."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import json
from dataclasses import replace

import jsonschema
from rich.console import Console

from analysis.answers.documents import result_schema
from analysis.answers.sizing_document import sizing_document
from analysis.branches import Sizing
from analysis.build.sheets.cut_list import cut_list_sheet
from analysis.build.workshop.plan import BuildWishes, plan_build
from logger.command.tables.size import size_text
from tests.analysis.report.sized_examples import sizing


def on_each() -> Sizing:
    """One branch, on each of two pipes."""
    one = sizing()
    return replace(one, branches=(replace(one.branches[0], legs=("left", "right")),))


def test_a_pair_on_two_pipes_is_listed_as_two() -> None:
    both = on_each()
    document = json.loads(json.dumps(sizing_document(both), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    assert [branch["leg"] for branch in document["branches"]] == ["left", "right"]
    assert len({branch["position_mm"] for branch in document["branches"]}) == 1
    alone = json.loads(json.dumps(sizing_document(sizing()), allow_nan=False))
    assert [branch["leg"] for branch in alone["branches"]] == [None]


def test_screen_and_sheets_say_one_on_each() -> None:
    both = on_each()
    console = Console(file=io.StringIO(), width=300)
    console.print(size_text(both))
    assert isinstance(console.file, io.StringIO)
    assert "one on each pipe (left and right)" in console.file.getvalue()
    plan = plan_build(both, BuildWishes()).branches[0]
    assert "buy and cut all of this 2 times" in cut_list_sheet(plan, "the branch").about
    (alone,) = plan_build(sizing(), BuildWishes()).branches
    assert "times" not in cut_list_sheet(alone, "the branch").about
