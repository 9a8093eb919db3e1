"""Where nobody said what room is beside the pipe: bent along the pipe, and that is said."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import math

import pytest

from analysis.answers.sizing_document import sizing_document
from analysis.branches import Branch
from analysis.build.workshop.fit_words import fit_words
from analysis.build.workshop.folds import USUAL_ROOM
from analysis.build.workshop.outline import taken
from analysis.build.workshop.plan import BuildPlan, BuildWishes, plan_build
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.report.sized_examples import branch, can_branch, sizing


def built(one: Branch, wishes: BuildWishes | None = None) -> BuildPlan:
    return plan_build(sizing(one), wishes or BuildWishes())


@pytest.mark.parametrize("length_m", [0.45, 0.61, 0.91])  # 1.5 to 3 ft: common practice, no source
def test_a_branch_as_long_as_people_build_them_lies_within_the_usual_room(length_m: float) -> None:
    (plan,) = built(branch(length_m)).branches
    assert plan.fold.turn_rad
    assert taken(plan).out_m <= USUAL_ROOM.reach_m
    assert plan.fold.acoustic_m == pytest.approx(plan.branch.tube_end_m)  # it sounds as sized


def test_room_taken_is_what_the_pieces_add_up_to() -> None:
    (plan,) = built(branch(0.772)).branches
    fold, half_m = plan.fold, plan.branch.tube.outer_diameter_m / 2.0
    assert fold.turn_rad == pytest.approx((math.pi / 2.0,))
    out_m = fold.straight_m[0] + fold.bend_radius_m + half_m - plan.saddle.pipe.wall_m
    along_m = half_m + fold.bend_radius_m + fold.straight_m[1] + plan.furthest_m
    assert taken(plan).out_m == pytest.approx(out_m, abs=1e-5)
    assert taken(plan).along_m == pytest.approx(along_m, abs=1e-5)


def test_what_no_bend_brings_into_it_stays_straight_and_is_said_to_fit_few_cars() -> None:
    stiff = BuildWishes(bend_radius_m=0.30)
    for made in (built(branch(0.772), stiff), built(can_branch(), stiff)):
        assert not made.branches[0].fold.turn_rad
        said = fit_words(made)
        assert said is not None
        assert "fits few cars" in said


def test_what_was_not_told_is_how_far_out_and_one_branch_may_lie_either_way() -> None:
    """A car file may tell the places along the pipe without telling what is beside it."""
    said = fit_words(built(branch(0.772)))
    assert said is not None
    assert said.startswith("Nobody said how far out from the pipe there is room")
    assert "towards the tail or the engine" in said


def test_nothing_is_said_of_room_that_was_told_or_that_a_short_branch_leaves() -> None:
    assert fit_words(built(branch(0.772), STRAIGHT)) is None
    assert fit_words(built(branch(0.20))) is None


def test_the_document_tells_the_shape_that_is_built() -> None:
    one = sizing(branch(0.772))
    for wishes in (BuildWishes(), STRAIGHT):
        (plan,) = plan_build(one, wishes).branches
        (told,) = json.loads(json.dumps(sizing_document(one, wishes)))["branches"]
        assert len(told["shape"]["bends_deg"]) == len(plan.fold.turn_rad)
        end_mm = told["shape"]["end_along_middle_mm"]
        assert end_mm == pytest.approx(1e3 * plan.centreline_m, abs=0.05)
