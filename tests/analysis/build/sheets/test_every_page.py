"""Every page of every kind of plan: no word off the sheet, no page for a few lines."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from analysis.branches import Sizing
from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BranchPlan, BuildWishes, plan_build
from analysis.words.plans import kept_words
from analysis.words.sentences import sentence
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.build.sheets.printed import MM, Printed
from tests.analysis.report.sized.test_line import picture
from tests.analysis.report.sized_examples import branch, can_branch, on_pipes, sizing, with_plans

FREE = BuildWishes()
BENT = BuildWishes(room=Room(reach_m=0.30, run_m=0.90))
FOLDED = BuildWishes(room=Room(reach_m=0.45, run_m=0.55))
LEANING = BuildWishes(angle_rad=math.radians(45.0))
TWO = sizing(branch(0.75, 0.6), branch(0.82, 1.45))
KEPT = replace(with_plans(), line=picture(-15.0))
CANS = sizing(can_branch(0.5, 0.6), can_branch(0.55, 0.9))
KINDS: dict[str, tuple[Sizing, BuildWishes]] = {
    "one": (sizing(branch()), FREE),
    "one, straight": (sizing(branch()), STRAIGHT),
    "one, fixed": (sizing(replace(branch(), slide_m=None)), FREE),
    "one, folded": (sizing(branch()), FOLDED),
    "two": (TWO, FREE),
    "one, a place kept": (KEPT, FREE),
    "two on each pipe": (on_pipes(TWO, "left", "right"), FREE),
    "two, with the whole pipe": (replace(TWO, line=picture(-15.0)), FREE),
    "two on each pipe, straight": (on_pipes(TWO, "left", "right"), STRAIGHT),
    "cans": (CANS, FREE),
    "cans, bent": (CANS, BENT),
    "cans, leaning": (CANS, LEANING),
    "can, fixed": (sizing(replace(can_branch(), slide_m=None)), FREE),
    "cans on each pipe, bent": (on_pipes(CANS, "left", "right"), BENT),
}
EDGE_MM, FOOT_MM = 9.0, 16.0  # margins are 10 mm; page number and its line stand below 14 mm


@cache
def printed(kind: str, paper: str) -> Printed:
    made, wishes = KINDS[kind]
    return Printed(build_sheets(plan_build(made, wishes), PAPERS[paper]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_no_word_runs_off_the_sheet_or_into_its_foot(kind: str, paper: str) -> None:
    sheets = printed(kind, paper)
    for number, page in enumerate(sheets.pdf.pages):
        boxes = sheets.boxes(number)
        for left, _, right, _, words in boxes:
            assert left >= EDGE_MM * MM, words
            assert right <= float(page.width) - EDGE_MM * MM, words
        if "CHECK YOUR PRINTER" not in sheets.texts[number]:
            assert min(low for _, low, *_ in boxes if low > 10.5 * MM) >= FOOT_MM * MM


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", KINDS)
def test_text_is_never_continued_on_a_page_of_its_own(kind: str, paper: str) -> None:
    texts = printed(kind, paper).texts
    assert not [text for text in texts if "continued" in text]
    assert sum("Read all of it once." in text for text in texts) == 1


def test_branches_that_meet_the_pipe_alike_share_their_templates() -> None:
    sheets = printed("two on each pipe, straight", "a4")
    (saddle,) = [text for text in sheets.texts if "Saddle template" in text]
    assert "Print it 4 times" in saddle
    assert "(branch 1) and " in saddle
    assert sum("Hole template" in text for text in sheets.texts) == 1


def test_cans_that_join_alike_share_one_page_of_joints() -> None:
    assert sum("Joints, " in text for text in printed("cans, bent", "a4").texts) == 1


def test_how_often_a_branch_is_made_is_on_its_sheets() -> None:
    text = printed("two on each pipe", "letter").text
    for title in ("Drawing, branch 1 (make 2)", "Cut list, branch 2 (make 2)"):
        assert title in text
    assert "cut all of this 2 times" in text


def test_a_fixed_can_has_no_end_left_to_close() -> None:
    assert "Close the end" not in printed("can, fixed", "a4").text
    assert "Close the end" in printed("one, fixed", "a4").text


def test_the_second_branch_comes_before_the_leak_test_and_the_drive() -> None:
    pair = plan_build(sizing(branch(0.74, 0.60), branch(0.82, 0.72)), FREE)
    made = Printed(build_sheets(pair, PAPERS["a4"]))
    text = made.texts[made.number_of("Order of work")]
    steps = ("Set the cap", "Second branch", "Leak test", "Drive and compare", "Fix the cap")
    at = [re.search(rf"\d+\. {step}", text) for step in steps]
    assert all(at)
    assert [found.start() for found in at if found] == sorted(f.start() for f in at if f)
    assert "other side of the pipe" in text
    # the drawing and the cut list have one figure for where the sleeve starts
    start = re.search(r"start (\d+ mm) out of the tube's end", made.text)
    assert start is not None
    cuts = made.texts[made.number_of("Cut list")]
    assert f"START HERE {start.group(1)}" in cuts


def test_the_tape_starts_where_the_pipe_was_measured_from() -> None:
    one, several = (printed(kind, "a4") for kind in ("two", "two on each pipe"))
    (work,), (of_legs,) = (
        [t for t in p.texts if "Mark the place" in t][:1] for p in (one, several)
    )
    assert "at the collector, where the cylinders' pipes meet. Stay" in work
    assert (
        "at the collector, where the pipes of its cylinders meet, or, of a pipe behind" in of_legs
    )


def test_a_drawing_says_how_its_outer_measures_are_taken() -> None:
    drawing = next(t for t in printed("one, folded", "a4").texts if "Joint, cut along" in t)
    assert "with the cap pulled out farthest" in drawing
    assert "from the outside of the pipe" in drawing
    fixed = Printed(
        build_sheets(plan_build(sizing(replace(branch(), slide_m=None)), FOLDED), PAPERS["a4"])
    )
    assert "pulled out" not in fixed.text


def test_the_hole_has_its_size_beside_the_joint() -> None:
    made = Printed(build_sheets(plan_build(sizing(branch()), FREE), PAPERS["a4"]))
    # 2.25 in less twice 0.065 in, by hand
    assert "hole 53.8 mm (2.12 in)" in made.texts[made.number_of("Joint, cut along the pipe")]


@pytest.mark.parametrize(
    ("kind", "is_said"),
    [("one", True), ("cans", True), ("one, folded", False), ("one, straight", False)],
)
def test_the_first_sheet_says_what_room_was_taken_for_granted(kind: str, is_said: bool) -> None:
    first = " ".join(printed(kind, "a4").texts[0].split())
    assert ("Does it fit?" in first) is is_said
    assert ("under [room]" in first) is is_said


def test_every_sheet_says_whose_it_is_and_of_which_day() -> None:
    build = plan_build(TWO, FREE)
    made = Printed(build_sheets(build, PAPERS["letter"], "my car, monday · 2024-05-11"))
    assert len(made.texts) > 5
    for text in made.texts:
        assert "my car, monday · 2024-05-11 · order 3 at 2,240 rpm · Letter" in text
    assert "pipenote · order 3" in Printed(build_sheets(build, PAPERS["a4"])).texts[0]


@pytest.mark.parametrize("kind", ["one, straight", "two on each pipe, straight"])
def test_the_tape_shows_one_mark_for_one_length(kind: str) -> None:
    made, wishes = KINDS[kind]
    for plan in plan_build(made, wishes).branches:
        total = round(32.0 * plan.centreline_m / 0.0254)
        mark = f"{total // 32} {Fraction(total % 32, 32)}"
        (cuts,) = [t for t in printed(kind, "a4").texts if f"Cut list, {_whose(plan, made)}" in t]
        assert f" {mark} starts at the zero line" in cuts  # the tape's column of the first piece
        assert f"({mark} in), from the zero line" in cuts


def test_one_sheet_shows_all_branches_on_the_pipe() -> None:
    made = replace(TWO, line=picture(-15.0))
    sheets = Printed(build_sheets(plan_build(made, FREE), PAPERS["letter"]))
    shopping = sheets.texts[sheets.number_of("Shopping list")]
    for words in ("Where it goes", "600 mm (23 5/8 in)", "1450 mm (57 1/16 in)", "collector"):
        assert words in shopping


def test_the_place_kept_for_a_second_branch_is_told_where_the_first_one_goes() -> None:
    sheets = printed("one, a place kept", "a4")
    page = sheets.texts[sheets.number_of("Where it goes")]
    told = kept_words(KEPT)
    assert told is not None
    assert sentence(told) in page
    assert "kept free at 360 mm" in page  # in the picture, as in with_plans
    assert "kept free" not in printed("two, with the whole pipe", "a4").text
    assert "may follow" not in printed("one", "a4").text


def _whose(plan: BranchPlan, made: Sizing) -> str:
    return f"branch {plan.number}" if len(made.branches) > 1 else "the branch"
