"""Every length on the sheets is that of the cap recommended: fixed, or on a sleeve that slides."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.branches import Branch
from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BranchPlan, BuildWishes, plan_build
from analysis.words.lengths import both, millimetres
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.build.sheets.printed import Printed
from tests.analysis.report.sized_examples import branch, can_branch, sizing

FOLDED = BuildWishes(room=Room(reach_m=0.45, run_m=0.55))


def fixed(one: Branch) -> Branch:
    return replace(one, slide_m=None)


@cache
def made(one: Branch, wishes: BuildWishes) -> tuple[BranchPlan, Printed]:
    build = plan_build(sizing(one), wishes)
    return build.branches[0], Printed(build_sheets(build, PAPERS["a4"]))


@pytest.mark.parametrize("wishes", [STRAIGHT, FOLDED])
@pytest.mark.parametrize("one", [branch(), fixed(branch())])
def test_pieces_add_up_to_the_tube_that_is_cut(one: Branch, wishes: BuildWishes) -> None:
    plan, printed = made(one, wishes)
    end_m = one.length_m if one.slide_m is None else one.slide_m.low
    assert sum(plan.fold.straight_m) + sum(plan.fold.arc_m) - plan.fold.bends_take_m == (
        pytest.approx(end_m)
    )
    cut_list = printed.texts[printed.number_of("Cut list")]
    assert f"All pieces together: {millimetres(plan.fold.centreline_m)}" in cut_list
    assert "SHORTER" not in printed.text
    # From the square end to the saddle's edge: of the piece as it is cut.
    edge_m = float(plan.saddle.outer_edge_m(np.zeros(1))[0])
    first_m = plan.fold.straight_m[0]
    assert f"on marks A and C {both(first_m - edge_m)}" in cut_list
    assert f"lies {both(first_m - plan.square_line_m)} from the other" in printed.text


@pytest.mark.parametrize("one", [branch(), can_branch()])
def test_only_a_cap_that_slides_has_a_sleeve(one: Branch) -> None:
    _, sliding = made(one, STRAIGHT)
    assert "START HERE" in sliding.text
    _, plain = made(fixed(one), STRAIGHT)
    for word in ("sleeve", "Sleeve", "START HERE", "Fix the cap", "band clamps"):
        assert word not in plain.text
    assert ("Close the end" in plain.text) == (one.can is None)  # a can is closed on the bench
    if one.slide_m is not None:
        assert millimetres(one.slide_m.low) not in plain.text


def test_a_slide_that_the_room_ends_is_said_to_end_there() -> None:
    one = branch(1.0)
    assert one.slide_m is not None
    in_room = replace(one, slide_m=replace(one.slide_m, high=1.02))
    _, printed = made(in_room, STRAIGHT)
    cut_list = printed.texts[printed.number_of("Cut list")]
    assert "end of the room" in cut_list
    assert both(1.02) in cut_list
    # 55 mm of branch short of the hottest, by a sleeve whose pull counts 1.126 times
    assert "hottest gas 49 mm" in cut_list
