"""What to build: the tables, the drawing, the place, the hand method."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from analysis.branches import ByThumb
from analysis.findings import Doubt, LockedTo
from analysis.report.answer import answer_section, todo_sentence
from analysis.report.blocks import Bullets, Chart, Drawing, Heading, Note, Section, Table, Text
from analysis.report.page import render_page
from analysis.report.sized.recommendation import (
    advice_section,
    branch_picture,
    branch_table,
    recommendation_section,
    sensitivity_table,
)
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import branch, on_pipes, sizing

SVG = "{http://www.w3.org/2000/svg}"


def _words(section: Section) -> str:
    out: list[str] = []
    for block in section.blocks:
        if isinstance(block, Text | Note):
            out.append(block.text)
        elif isinstance(block, Bullets):
            out.extend(block.items)
    return " ".join(out)


def test_a_branch_without_room_is_said_first_and_once() -> None:
    doubt = Doubt(code="branch_longer_than_room", message="the room of 10.0 mm is too short")
    sized = replace(sizing(), warnings=(doubt,))
    page = contents(findings(band()), sized)
    section = recommendation_section(page)
    first = section.blocks[0]
    assert isinstance(first, Note)
    assert (first.label, first.text) == ("Does not fit", "The room of 10.0 mm is too short.")
    assert _words(section).count("too short") == 1
    assert "room given is too short" in todo_sentence(page)
    assert "room" not in todo_sentence(contents(findings(band()), sizing()))


def test_doubts_and_what_goes_with_every_branch_have_a_heading_each() -> None:
    doubt = Doubt(code="exhaust_misses_drive", message="the car file does not sound so")
    advice = Doubt(code="may_whistle", message="listen for a new tone", is_advice=True)
    sized = replace(sizing(), warnings=(advice, doubt))
    blocks = recommendation_section(contents(findings(band()), sized)).blocks
    said = {
        heading.text: items.items
        for heading, items in itertools.pairwise(blocks)
        if isinstance(heading, Heading) and isinstance(items, Bullets)
    }
    assert said["Look out for"] == ("The car file does not sound so.",)
    assert said["When you build"] == ("Listen for a new tone.",)


def test_the_branch_table_has_every_measure_with_units() -> None:
    rows = {row[0]: row[1] for row in branch_table(sizing(), STRAIGHT).rows}
    assert rows["Sounds like straight tube of"] == "772 mm (30 3/8 in)"
    assert rows["The tube's end"].partition(" from")[0] == "718 mm (28 9/32 in)"
    # 54.04 and 111.94 mm of tube; the sleeve is wider by (57.15 / 53.848)^2 in area
    assert rows["Cap"] == "slides 0 to 99 mm: start with 48 mm (1 7/8 in) out"
    assert rows["The same, cap pulled out"] == "830 mm (32 11/16 in)"
    assert rows["If the gas is coldest"] == "718 mm (28 9/32 in), -54 mm"
    assert rows["If the gas is hottest"] == "830 mm (32 11/16 in), +58 mm"
    assert rows["Tube"] == "2.25 in x 0.065 in"
    assert rows["Hole in the pipe"] == "53.8 mm (2.12 in)"
    assert rows["Tuned to"] == "112.0 Hz"
    assert rows["With gas at"] == "140 °C (284 °F)"
    assert rows["Takes off 10 dB from"] == "100.8 to 124.3 Hz"
    assert rows["Takes off at most"] == "27 dB"
    assert rows["Weld it at"] == "1480 mm (58 1/4 in) from the collector"


def test_every_row_is_as_long_as_the_head() -> None:
    for sized in (sizing(), sizing(branch(0.8, 1.0), branch(0.74, 1.85))):
        table = branch_table(sized)
        assert {len(row) for row in table.rows} == {len(table.head)}


def test_an_unknown_place_is_said() -> None:
    table = branch_table(sizing(branch(position_m=None)))
    rows = {row[0]: row[1] for row in table.rows}
    assert rows["Where"] == "not worked out"


def test_the_cost_of_an_error_is_in_both_units() -> None:
    table = sensitivity_table(sizing().sensitivity)
    assert [row[0] for row in table.rows] == ["Gas temperature", "Length", "Engine speed"]
    assert table.rows[0][1] == "0.14 Hz per °C (0.08 Hz per °F)"  # 0.136 / 1.8
    assert table.rows[1][1] == "-0.14 Hz per mm (-0.45 Hz per 1/8 in)"  # 0.143 x 3.175
    assert table.rows[2] == ("Engine speed", "0.050 Hz per rpm", "0.6 dB for 20 rpm")


def test_the_section_holds_drawing_charts_place_and_hand_method() -> None:
    section = recommendation_section(contents(findings(band()), sizing()))
    assert sum(isinstance(b, Drawing) for b in section.blocks) == 1
    assert [b.name for b in section.blocks if isinstance(b, Chart)] == ["loss", "predicted"]
    assert sum(isinstance(b, Table) for b in section.blocks) == 3
    text = _words(section)
    assert "from the inside of the pipe's wall where" in text
    assert "to the end that the cap closes" in text
    assert "Make the cap slide" in text
    assert "On your pipe: 1480 mm" in text
    assert "343.0 m/s (1,125 ft/s)" in text
    assert "between 121 Hz and 142 Hz" in text
    assert "Read the cautions" in text


def test_a_loss_that_is_hardly_there_is_not_given_as_a_gain() -> None:
    none = replace(sizing().sensitivity, loss_db_per_10_mm=-0.09)
    assert sensitivity_table(none).rows[1][2] == "under 0.1 dB for 10 mm (3/8 in)"


def test_both_branches_stand_beside_the_hand_method() -> None:
    page = contents(findings(band()), sizing(branch(0.8, hz=108.0), branch(0.74, hz=117.0)))
    tables = [b for b in recommendation_section(page).blocks if isinstance(b, Table)]
    rows = {row[0]: row[1:] for row in tables[-1].rows}
    assert rows["Length"] == ("766 mm (30 1/8 in)", "800 mm (31 1/2 in) and 740 mm (29 1/8 in)")
    assert rows["Would really tune to"] == ("131.0 Hz", "108.0 Hz and 117.0 Hz")
    assert rows["Change of the drone"] == ("-3.1 dB", "-14.2 dB")


def test_two_branches_are_kept_apart() -> None:
    page = contents(findings(band()), sizing(branch(0.8, None), branch(0.74, None)))
    assert "850 mm (33 7/16 in) apart" in _words(recommendation_section(page))


def test_the_rule_of_thumb_stands_in_for_an_unknown_place() -> None:
    thumb = ByThumb(quarter_m=1.04, cars=50, cured=20, louder=7)
    page = contents(findings(band()), replace(sizing(branch(position_m=None)), by_thumb=thumb))
    said = _words(recommendation_section(page))
    assert "a quarter wavelength, 1040 mm (41 in), upstream of where the last large muffler" in said
    assert "Of 50 made-up cars built so 20 were cured, and 7 got louder elsewhere." in said
    answer = _words(answer_section(page))
    assert "where the branches go" in answer
    assert "measure the place" not in answer
    assert "1040 mm (41 in) upstream of the last large muffler" in render_page(page).replace(
        "\u00a0", " "
    )


def test_what_more_room_would_buy_stands_beside_the_place() -> None:
    page = contents(findings(band()), replace(sizing(), gains=("A second branch would help.",)))
    assert "A second branch would help." in _words(recommendation_section(page))


def test_a_room_without_a_cure_is_said_first() -> None:
    doubt = Doubt(code="no_cure_in_room", message="no branch that fits cures it")
    page = contents(findings(band()), replace(sizing(), warnings=(doubt,)))
    first = recommendation_section(page).blocks[0]
    assert isinstance(first, Note)
    assert first.text == "No branch that fits cures it."
    assert todo_sentence(page).startswith("No branch that fits cures it. The best branches found")


def test_without_order_the_level_chart_is_left_out() -> None:
    page = contents(findings(band()), replace(sizing(), level_curves=None))
    charts = [b.name for b in recommendation_section(page).blocks if isinstance(b, Chart)]
    assert charts == ["loss"]


def test_an_unknown_cause_is_warned_of_first() -> None:
    page = contents(findings(band(locked_to=LockedTo.UNKNOWN)), sizing())
    first = recommendation_section(page).blocks[0]
    assert isinstance(first, Note)
    assert "What makes it says what to drive first" in first.text


def test_warnings_of_the_sizing_are_shown() -> None:
    warned = replace(sizing(), warnings=(Doubt(code="long", message="too long for the room"),))
    assert "Too long for the room." in _words(
        recommendation_section(contents(findings(band()), warned))
    )


@pytest.mark.parametrize(
    ("bands", "words"),
    [
        ((), "Nothing: there is no drone to cure."),
        ((band(locked_to=LockedTo.ROAD),), "No branch: what was found follows road speed."),
        ((band(),), "No branch has been sized yet."),
    ],
)
def test_no_sizing_says_why(bands: tuple[()], words: str) -> None:
    assert words in _words(recommendation_section(contents(findings(*bands))))


def test_every_branch_is_drawn_and_one_that_cannot_be_made_says_why() -> None:
    pair = branch_picture(sizing(branch(0.8, 1.0), branch(0.4, 1.85)))
    assert isinstance(pair, Drawing)
    assert len(pair.svgs) == 2
    wide = replace(branch(), tube=replace(branch().tube, outer_diameter_m=0.0762))
    none = branch_picture(sizing(wide))
    assert isinstance(none, Text)
    assert "There is no picture of it" in none.text


def test_a_fixed_cap_is_cut_to_its_length_and_has_no_sleeve() -> None:
    fixed = sizing(replace(branch(), slide_m=None))
    rows = {row[0]: row[1] for row in branch_table(fixed, STRAIGHT).rows}
    assert rows["The tube's end"].partition(" from")[0] == "772 mm (30 13/32 in)"
    assert rows["Cap"].startswith("fixed")
    page = contents(findings(band()), fixed)
    assert "sleeve" not in _words(recommendation_section(page)).lower()


def test_two_tunes_beside_the_drone_are_explained() -> None:
    pair = sizing(branch(0.84, hz=103.0), branch(0.66, hz=130.0))
    assert "one above it, on purpose" in _words(recommendation_section(contents(findings(), pair)))
    alike = sizing(branch(0.8), branch(0.74))
    assert "on purpose" not in _words(recommendation_section(contents(findings(), alike)))


def test_after_the_work_the_advice_is_called_that_of_the_first_drive() -> None:
    section = advice_section(contents(findings(band()), sizing(), comparison()))
    assert section is not None
    assert section.title == "What the baseline called for"
    assert "what the baseline alone called for" in _words(section)
    assert advice_section(contents(findings(band()), None, comparison())) is None


def test_no_words_run_out_of_the_picture() -> None:
    pair = sizing(branch(0.8, 1.0), branch(0.74, 1.85))
    picture = branch_picture(on_pipes(pair, "left", "right"), STRAIGHT)
    assert isinstance(picture, Drawing)
    for drawn in map(ElementTree.fromstring, picture.svgs):
        width = float(drawn.attrib["viewBox"].split()[2])
        for group in drawn.iter(f"{SVG}g"):
            left = float(re.findall(r"[-.\d]+", group.attrib["transform"])[4])
            for words in group.findall(f"{SVG}text[@text-anchor='start']"):
                assert left + float(words.attrib["textLength"]) <= width, words.text
