"""The card of what to build."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

from analysis.basics.interval import Interval
from analysis.branches import ByThumb
from analysis.build.sheets.book import PAPERS
from analysis.build.sheets.every_sheet import build_sheets
from analysis.build.workshop.plan import plan_build
from analysis.findings import Doubt
from analysis.report.blocks import Drawing, Table
from analysis.report.sized.build_card import card_blocks
from analysis.size.advice import NO_CURE
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.build.sheets.printed import Printed
from tests.analysis.report.sized.test_line import picture
from tests.analysis.report.sized_examples import branch, can_branch, on_pipes, sizing


def rows(card: object) -> dict[str, tuple[str, ...]]:
    assert isinstance(card, Table)
    return {row[0]: row[1:] for row in card.rows}


def test_all_that_is_needed_at_the_car_is_on_it() -> None:
    one = replace(sizing(branch(position_m=1.48)), line=picture(-15.0))
    card, sketch = card_blocks(one, STRAIGHT)
    told = rows(card)
    assert told["Weld it at"][0].startswith("1480 mm ")
    assert told["The tube's end"] == ("718 mm (28 9/32 in) from the pipe's inner wall",)
    plan = plan_build(one, STRAIGHT).branches[0]
    (sawn,) = told["Saw the tube to"]
    inches = round(32.0 * plan.first_blank_m / 0.0254)
    whole, rest = divmod(inches, 32)
    assert rest % 2  # a mark that no sixteenth names
    assert sawn == f"{1e3 * plan.first_blank_m:.0f} mm ({whole} {rest}/32 in), square"
    cuts = Printed(build_sheets(plan_build(one, STRAIGHT), PAPERS["a4"])).text
    assert f"mm ({whole} {rest}/32 in), then cut the saddle" in cuts
    assert plan.first_blank_m > 0.718
    (cap,) = told["Cap"]
    assert re.fullmatch(r"slides 0 to \d+ mm: start with .* out", cap)
    assert isinstance(sketch, Drawing)
    assert "1480 mm" in sketch.svgs[0]


def test_a_fixed_cap_is_said_to_be_one() -> None:
    fixed = replace(branch(), slide_m=None)
    assert rows(card_blocks(sizing(fixed))[0])["Cap"] == ("fixed: a disc welded on the end",)


def test_branches_are_counted_on_each_pipe() -> None:
    two = on_pipes(sizing(branch(0.8), branch(0.74)), "left", "right")
    card = card_blocks(two)[0]
    assert isinstance(card, Table)
    assert card.caption == "Build 4 branches: 2 on each pipe (left and right)"
    card = card_blocks(on_pipes(two, "front"))[0]
    assert isinstance(card, Table)
    assert card.caption == "Build 2 branches: 2 on the front pipe"
    one, other = sizing(branch(0.8), branch(0.74)).branches
    unlike = sizing(replace(one, legs=("left",)), replace(other, legs=("right",)))
    card = card_blocks(unlike)[0]
    assert isinstance(card, Table)
    assert card.caption == "Build 2 branches: one on the left pipe and one on the right pipe"


def test_a_can_has_its_neck() -> None:
    told = rows(card_blocks(sizing(can_branch()))[0])
    assert "Neck, pipe to can" in told
    assert "Tube of the can" in told


def test_without_a_place_there_is_no_sketch_and_that_is_told() -> None:
    nowhere = sizing(replace(branch(), position_m=None))
    (card,) = card_blocks(nowhere, STRAIGHT)
    assert "not worked out" in rows(card)["Where"][0]


def test_two_branches_near_each_other_lie_on_two_sides_and_no_number_hides_the_other() -> None:
    near = sizing(branch(0.74, 0.60), branch(0.82, 0.72))
    _, sketch = card_blocks(replace(near, line=picture(-15.0)), STRAIGHT)
    assert isinstance(sketch, Drawing)
    assert "Turn the second to the other side" in sketch.summary
    shapes = list(ElementTree.fromstring(sketch.svgs[0]).iter())
    branches = [
        [float(y) for y in (each.get("points") or "").split()[1::2]]
        for each in shapes
        if each.tag.endswith("polygon") and each.get("fill-opacity") == "0.38"  # a branch's grey
    ]
    assert sum(min(ys) > 0.0 for ys in branches) == sum(max(ys) < 0.0 for ys in branches) == 2
    (x1, y1, r), (x2, y2, _) = (
        tuple(float(each.get(name) or 0.0) for name in ("cx", "cy", "r"))
        for each in shapes
        if each.tag.endswith("circle")
    )
    assert math.hypot(x1 - x2, y1 - y2) > 2.0 * r


def test_branches_far_apart_may_lie_on_one_side() -> None:
    far = replace(sizing(branch(0.74, 0.20), branch(0.82, 2.90)), spacing_m=2.70)
    _, sketch = card_blocks(replace(far, line=picture(-15.0)), STRAIGHT)
    assert isinstance(sketch, Drawing)
    assert "so that they do not meet" not in sketch.summary


def test_no_line_runs_through_the_number_of_a_can() -> None:
    cans = sizing(can_branch(0.5, 0.6), can_branch(0.55, 0.9))
    _, sketch = card_blocks(replace(cans, line=picture(-15.0)), STRAIGHT)
    assert isinstance(sketch, Drawing)
    tags = [each.tag.rpartition("}")[2] for each in ElementTree.fromstring(sketch.svgs[0]).iter()]
    drawn = [tag for tag in tags if tag in ("circle", "line", "polyline", "polygon", "path")]
    assert drawn[-2:] == ["circle", "circle"]  # what is drawn last lies on top


def test_the_picture_of_a_pipe_shows_its_crossover_and_where_its_end_leads() -> None:
    front = on_pipes(sizing(branch(0.8, 0.5)), "left", "right")
    line = replace(
        picture(-15.0), legs=("left", "right"), crossings=((1.1, "X"),), goes_into=("rear",)
    )
    _, sketch = card_blocks(replace(front, line=line), STRAIGHT)
    assert isinstance(sketch, Drawing)
    for words in ("X at 1100 mm (43 5/16 in)", "500 mm (19 11/16 in)", "into rear"):
        assert f">{words}<" in sketch.svgs[0].replace("\u00a0", " ")


def test_a_slide_that_ends_before_the_hottest_gas_says_by_how_much() -> None:
    short = replace(branch(0.8), slide_m=Interval(low=0.744, high=0.84))
    (cap,) = rows(card_blocks(sizing(short))[0])["Cap"]
    # longest 0.86 m; a sleeve of 57.15 mm over 53.85 mm counts 1.126 times: 20 mm is 18 mm of it
    assert cap.endswith("out; the hottest gas would need 18 mm more")
    (whole,) = rows(card_blocks(sizing(branch(0.8)))[0])["Cap"]
    assert "hottest" not in whole


def test_what_is_not_to_be_built_is_not_asked_for() -> None:
    hopeless = replace(sizing(branch(0.8)), warnings=(Doubt(code=NO_CURE, message="no cure"),))
    card = card_blocks(hopeless)[0]
    assert isinstance(card, Table)
    assert card.caption == "Not to build, only the best that was found: one branch"


def test_a_rule_of_thumb_is_a_preview() -> None:
    thumb = ByThumb(quarter_m=0.8, cars=96, cured=48, louder=20)
    card = card_blocks(replace(sizing(branch(0.8)), by_thumb=thumb))[0]
    assert isinstance(card, Table)
    assert card.caption == "A preview, not to build yet: one branch"
