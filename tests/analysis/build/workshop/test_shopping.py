"""The shopping list: every piece of every branch is in it, and little more is bought."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from analysis.branches import Branch
from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BuildPlan, BuildWishes, plan_build
from analysis.build.workshop.shopping import Shopping, TubeToBuy, shopping
from analysis.exhaust.tube_stock import parse_tube
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.build.sheets.printed import Printed
from tests.analysis.report.sized_examples import branch, can_branch, on_pipes, sizing

FOLDED = BuildWishes(room=Room(reach_m=0.45, run_m=0.55))
KERF_M = 0.005
FOOT_M = 0.3048  # by definition
FEET_M = tuple(FOOT_M * feet for feet in (2.0, 4.0, 5.0, 10.0, 20.0))


def built(*branches: Branch, legs: tuple[str, ...] = (), folded: bool = False) -> BuildPlan:
    made = sizing(*branches)
    return plan_build(on_pipes(made, *legs) if legs else made, FOLDED if folded else STRAIGHT)


def pieces_m(bought: TubeToBuy) -> list[float]:
    return sorted(piece for bar in bought.bars for piece in bar.pieces_m)


PLANS = {
    "one": built(branch()),
    "two": built(branch(0.75), branch(0.82)),
    "folded": built(branch(), folded=True),
    "on each pipe": built(branch(0.75), branch(0.82), legs=("left", "right")),
    "cans": built(can_branch(), can_branch(0.6)),
    "fixed cans": built(replace(can_branch(), slide_m=None)),
    "can and plain": built(can_branch(), branch()),
}


@pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS)
def test_every_straight_piece_is_sawn_from_some_length(plan: BuildPlan) -> None:
    made = shopping(plan)
    wanted = sorted(
        piece
        for each in plan.branches
        for _ in range(each.branch.welds)
        for piece in (
            each.first_blank_m,
            *each.fold.straight_m[1:],
            *([each.can.length_m] if each.can else []),
        )
    )
    got = sorted(piece for bought in made.tubes for piece in pieces_m(bought))
    assert got == pytest.approx(wanted)
    assert len({bought.tube for bought in made.tubes}) == len(made.tubes)
    for bought in (*made.tubes, *made.sleeves):
        for bar in bought.bars:
            assert bar.left_m >= -1e-9
            assert sum(bar.pieces_m) + KERF_M * len(bar.pieces_m) + bar.left_m == pytest.approx(
                bar.length_m
            )
        assert bought.bought_m >= sum(pieces_m(bought))


def least_bought_m(lengths_m: list[float], sold_m: tuple[float, ...]) -> float:
    """Least length of stock that holds the pieces, by integer programming: scipy's HiGHS.

    x[k] bars of kind k are opened, one place for each piece; y[i, k] puts piece i into place k.
    """
    places = [sold for sold in sold_m for _ in lengths_m]
    n, m = len(lengths_m), len(places)
    cost = np.concatenate([places, np.zeros(n * m)])
    once = np.zeros((n, m + n * m))
    holds = np.zeros((m, m + n * m))
    for i, length_m in enumerate(lengths_m):
        once[i, m + i * m : m + (i + 1) * m] = 1.0
        for k in range(m):
            holds[k, m + i * m + k] = length_m + KERF_M
    holds[:, :m] = -np.diag(places)
    best = milp(
        cost,
        constraints=[LinearConstraint(once, 1.0, 1.0), LinearConstraint(holds, -np.inf, 0.0)],
        integrality=np.ones(cost.size, dtype=np.int64),
        bounds=Bounds(0.0, 1.0),
    )
    assert best.success
    return float(best.fun)


@pytest.mark.parametrize("name", ["one", "two", "folded", "on each pipe", "cans"])
def test_hardly_more_is_bought_than_the_least_that_would_do(name: str) -> None:
    for bought in shopping(PLANS[name]).tubes:
        least_m = least_bought_m(pieces_m(bought), FEET_M)
        assert bought.bought_m <= least_m + 2.0 * FOOT_M + 1e-9


def test_a_piece_longer_than_any_stock_gets_a_length_of_its_own() -> None:
    long = BuildWishes(room=Room(reach_m=9.0, run_m=1.0))
    (bought,) = shopping(plan_build(sizing(branch(7.5)), long)).tubes
    (bar,) = bought.bars
    assert bar.left_m == pytest.approx(0.0, abs=1e-9)


def test_metric_tube_is_bought_by_the_metre() -> None:
    metric = replace(branch(0.75), tube=parse_tube("55 mm x 1.5 mm"))
    (bought,) = shopping(built(metric)).tubes
    assert [bar.length_m for bar in bought.bars] == [1.0]


def closures(made: Shopping) -> dict[str, int]:
    return {
        "discs": sum(made.discs.values()),
        "fronts": sum(n for disc, n in made.discs.items() if disc.hole_m is not None),
        "on sleeves": sum(n for disc, n in made.discs.items() if disc.on_sleeve),
        "sleeves": sum(len(bar.pieces_m) for sleeve in made.sleeves for bar in sleeve.bars),
        "clamps": made.clamps,
        "bends": sum(made.bends.values()),
    }


@pytest.mark.parametrize(
    ("name", "discs", "fronts", "on_sleeves", "sleeves"),
    [
        ("one", 1, 0, 0, 1),
        ("two", 2, 0, 0, 2),
        ("on each pipe", 4, 0, 0, 4),
        ("cans", 4, 2, 2, 2),
        ("fixed cans", 2, 1, 0, 0),
        ("can and plain", 3, 1, 1, 2),
    ],
)
def test_each_cap_gets_its_disc_and_each_sleeve_two_clamps(
    name: str, discs: int, fronts: int, on_sleeves: int, sleeves: int
) -> None:
    """Counted by hand."""
    counted = closures(shopping(PLANS[name]))
    assert counted == {
        "discs": discs,
        "fronts": fronts,
        "on sleeves": on_sleeves,
        "sleeves": sleeves,
        "clamps": 2 * sleeves,
        "bends": 0,
    }


def test_each_long_branch_gets_a_support_on_each_pipe() -> None:
    """Longer than half a metre, as the order of work asks; counted by hand."""
    of_45_cm = replace(branch(0.45), slide_m=None)
    plans = (built(of_45_cm), PLANS["one"], PLANS["on each pipe"])
    assert [shopping(plan).supports for plan in plans] == [0, 1, 4]


def test_every_bend_is_counted() -> None:
    plan = PLANS["folded"]
    turns = Counter(round(abs(turn), 6) for turn in plan.branches[0].fold.turn_rad)
    assert turns
    assert {bend.turn_rad: n for bend, n in shopping(plan).bends.items()} == turns


def test_it_is_one_sheet_for_the_whole_job() -> None:
    printed = Printed(build_sheets(PLANS["on each pipe"], PAPERS["a4"]))
    (page,) = [text for text in printed.texts if "Shopping list" in text]
    assert "For all 4 branches together." in page
    assert "Band clamp for the sleeves 8" in page
    assert "Left over" in page
    assert "To buy" not in printed.text


@pytest.mark.parametrize(
    ("tube", "asked"),
    [
        # 1.875 in is 47.625 mm; a gap of 0.1 to 1 mm is common practice, no source
        ("1.875 in x 0.065 in", "47.73 to 48.62 mm (1.879 to 1.914 in) inside"),
        ("1.875 in x 0.065 in", "such as 2 in x 18 gauge"),
        ("2.25 in x 0.065 in", "the same tube expanded to that over its whole length"),
    ],
)
def test_a_sleeve_is_asked_for_with_a_gap_to_slide_in(tube: str, asked: str) -> None:
    plan = built(replace(branch(0.75), tube=parse_tube(tube)))
    printed = Printed(build_sheets(plan, PAPERS["a4"]))
    (page,) = [text for text in printed.texts if "Shopping list" in text]
    assert asked in page


@pytest.mark.parametrize(
    ("tube", "size"),
    [
        # 16 gauge is 0.065 in by the Birmingham wire gauge: from memory
        ("1.875 in x 0.065 in", "(1.875 x 0.065 in), 16 gauge 1 x"),
        ("1.875 in x 0.070 in", "(1.875 x 0.070 in) 1 x"),
    ],
)
def test_tube_is_named_by_its_gauge_too_where_its_wall_is_one(tube: str, size: str) -> None:
    plan = built(replace(branch(0.75), tube=parse_tube(tube)))
    printed = Printed(build_sheets(plan, PAPERS["a4"]))
    (page,) = [text for text in printed.texts if "Shopping list" in text]
    assert size in page
