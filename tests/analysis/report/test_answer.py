"""The two sentences, for every kind of result."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

from analysis.basics.interval import Interval
from analysis.branches import ByThumb, OtherWay
from analysis.drive import Trouble
from analysis.findings import Cause, Doubt, GearView, LockedTo
from analysis.report.answer import (
    answer_section,
    bands_section,
    build_sentence,
    todo_sentence,
)
from analysis.report.blocks import Bullets, Note, Table, Text, Tone
from analysis.report.contents import ReportContents
from analysis.report.page import render_page
from analysis.report.sections import make_sections
from analysis.words.found import found_sentence
from analysis.words.plans import plan_words
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings, levels_only
from tests.analysis.report.sized_examples import branch, sizing, with_plans


def test_a_drone_is_named_by_rpm_order_frequency_and_rise() -> None:
    text = found_sentence(findings(band()))
    assert text == (
        "At about 2,240 rpm the drone of order 3 (3 beats per turn of the crankshaft, as the "
        "cylinders fire) at 112 Hz is 13 dB louder than its surroundings."
    )


def test_a_peak_that_is_not_known_to_1_percent_is_told_as_a_range() -> None:
    """95 and 105 Hz are 1,900 and 2,100 rpm in order 3."""
    wide = replace(band(), peak_hz_ci95=Interval(low=95.0, high=105.0))
    assert found_sentence(findings(wide)) == (
        "Somewhere between 1,900 and 2,100 rpm the drone of order 3 (3 beats per turn of the "
        "crankshaft, as the cylinders fire) at 95 to 105 Hz is 13 dB louder than its surroundings."
    )


def test_a_drone_off_the_firing_order_is_not_called_firing() -> None:
    text = found_sentence(findings(band(order=4.5)))
    assert "the drone of order 4.5 (4.5 beats per turn of the crankshaft) at 168 Hz" in text
    assert "firing" not in text


def test_more_drones_are_counted() -> None:
    bands = (band(), band(1500.0, order=1.5), band(3000.0, order=6.0))
    assert "; one more drone is listed below." in found_sentence(findings(*bands[:2]))
    assert "; 2 more drones are listed below." in found_sentence(findings(*bands))


def test_one_resonance_on_two_orders_is_one_drone() -> None:
    bands = (band(), band(2240.0 * 2.0, order=1.5), band(3000.0, order=6.0))
    text = found_sentence(findings(*bands))
    assert "; the same resonance also sounds at 4,480 rpm; one more drone is listed" in text


def test_a_quiet_drive_names_its_range_and_calls_for_no_branch() -> None:
    quiet = contents(findings())
    assert found_sentence(quiet.findings).startswith("No drone was found: between 1,210 rpm and")
    assert todo_sentence(quiet).startswith("No branch is called for.")


def test_the_branch_is_given_in_both_units_with_its_range() -> None:
    told_apart = replace(findings(band()), causes=())
    text = todo_sentence(contents(told_apart, sizing()))
    assert text == (
        "Fit a closed side branch: the drone should get about 14 dB quieter (6.5 dB at worst, "
        "18.0 dB at best)."
    )


def test_two_branches_are_both_named() -> None:
    text = todo_sentence(contents(findings(band()), sizing(branch(0.8), branch(0.74))))
    assert "Fit 2 closed side branches" in text


def test_two_pipes_get_theirs_on_each() -> None:
    one, two = sizing(), sizing(branch(0.8), branch(0.74))
    on_each = [
        replace(s, branches=tuple(replace(b, legs=("left", "right")) for b in s.branches))
        for s in (one, two)
    ]
    single, pair = (todo_sentence(contents(findings(band()), each)) for each in on_each)
    assert "branch, one on each pipe (left" in single
    assert "2 closed side branches on each pipe (left" in pair


def test_without_a_car_it_says_what_is_missing() -> None:
    text = todo_sentence(contents(findings(band())))
    assert "gas temperature are not known" in text
    assert "car file" in text


def test_a_road_drone_is_not_called_the_exhausts() -> None:
    road = contents(findings(band(locked_to=LockedTo.ROAD)))
    assert "exhaust" not in found_sentence(road.findings)
    assert "No branch on the exhaust will help." in todo_sentence(road)


def test_a_road_drone_first_with_an_engine_drone_behind_it() -> None:
    both = findings(band(1800.0, locked_to=LockedTo.ROAD), band())
    text = todo_sentence(contents(both, sizing()))
    assert "No branch on" in text
    assert "The branch below is for the weaker drone at 112 Hz" in text


def test_an_unknown_cause_asks_for_the_drive_that_tells_before_it_advises() -> None:
    gears = tuple(GearView(gear=g, share_of_rise=0.5, road_speed_m_s=20.0 + g) for g in (0, 1))
    unknown = findings(replace(band(locked_to=LockedTo.UNKNOWN), by_gear=gears))
    assert "exhaust" not in found_sentence(unknown)
    text = todo_sentence(contents(unknown, sizing()))
    # two gears were driven: another one is not what is missing
    first = text.index("Before you cut anything: drive through 2,020 rpm to 2,490 rpm again")
    assert first < text.index("If it follows the engine, fit")


def test_one_resonance_follows_one_thing_wherever_it_is_said() -> None:
    """Only its second order was driven through in two gears, and stayed."""
    gears = tuple(GearView(gear=g, share_of_rise=1.0, road_speed_m_s=20.0 + g) for g in (0, 1))
    shown = replace(band(2240.0 * 2.0, order=1.5), by_gear=gears)
    both = findings(band(locked_to=LockedTo.UNKNOWN), shown)
    assert "cannot be told" not in todo_sentence(contents(both, sizing()))
    page = bands_section(both)
    assert page is not None
    table = next(b for b in page.blocks if isinstance(b, Table))
    assert {row[5] for row in table.rows} == {"engine speed (same rpm in every gear)"}


def test_many_orders_of_one_resonance_are_counted() -> None:
    bands = tuple(band(6720.0 / order, order=order) for order in (3.0, 1.5, 2.0, 2.5, 4.0))
    text = found_sentence(findings(*bands))
    assert "; the same resonance also sounds at 4 more speeds from 1,680 rpm to 4,480 rpm." in text


def test_the_drives_doubts_are_on_the_first_page() -> None:
    clipped = Doubt(code="clipped_audio", message="It is cut off. Turn it down.", may_hide=True)
    gear = Doubt(code="one_gear_only", message="One gear was driven.")
    page = contents(findings(band(), warnings=(clipped, gear)))
    assert "Doubts about this drive: the sound is clipped." in _page_1(page)
    links = re.findall(r'<a href="#quality">.*?</a>', render_page(page))
    assert "What each means, and what to do" in links[0]
    wind = replace(clipped, code="wind_rumble")
    said = _page_1(contents(findings(band(), warnings=(clipped, wind))))
    assert "the sound is clipped; wind on the microphone?" in said
    # where no drone is told, they are all that there is to say
    quiet = contents(findings(warnings=(clipped,)))
    assert todo_sentence(quiet).startswith("That is not certain: what may hide one")
    assert clipped.message in _page_1(quiet)
    lost = Trouble(code="voice_codec", message="amr", start_s=None, duration_s=None)
    withheld = replace(findings(trouble=(lost,)), withheld="a codec made for speech kept the sound")
    told = [b for b in answer_section(contents(withheld)).blocks if isinstance(b, Bullets)]
    assert "Do not cut metal on it." in told[0].items[0]


def test_without_a_place_nothing_is_cut_before_the_exhaust_is_described() -> None:
    thumb = ByThumb(quarter_m=0.8, cars=96, cured=48, louder=20)
    text = build_sentence(replace(sizing(), by_thumb=thumb))
    assert text.startswith("Cut nothing yet: the place decides, so describe the exhaust first.")
    assert "Fit" not in text
    unknown = findings(band(locked_to=LockedTo.UNKNOWN))
    said = todo_sentence(contents(unknown, replace(sizing(), by_thumb=thumb)))
    assert said.endswith(text)  # it holds whatever the drone follows


def test_levels_only_claims_no_order_and_no_exhaust() -> None:
    text = found_sentence(levels_only())
    assert text == (
        "At about 2,240 rpm the cabin gets 9 dB louder than at the engine speeds around it; taken "
        "as order 3 (firing), that is a drone at 112 Hz."
    )


def test_levels_only_says_that_the_order_is_assumed() -> None:
    blocks = answer_section(contents(levels_only())).blocks
    texts = [b.text for b in blocks if isinstance(b, Text)]
    assert any("firing order (3) is assumed, not measured" in text for text in texts)


def test_the_table_gives_every_band_with_units_and_intervals() -> None:
    page = bands_section(findings(band(), band(1500.0, order=1.5)))
    assert page is not None
    table = next(b for b in page.blocks if isinstance(b, Table))
    assert len(table.rows) == 2
    assert table.rows[0][0] == "Order 3 (firing)"
    assert table.rows[0][1] == "2,240 rpm, 112.0 Hz [111.2, 112.7]"
    assert table.rows[0][4] == "13.0 dB"


def test_a_drive_that_may_hide_a_drone_does_not_calm() -> None:
    doubt = Doubt(code="low_signal", message="record it again", may_hide=True)
    doubtful = contents(findings(warnings=(doubt,)))
    answer = answer_section(doubtful).blocks[0]
    assert isinstance(answer, Note)
    assert answer.tone is Tone.CARE


def test_a_branch_for_another_band_than_the_worst_is_said_to_be() -> None:
    worst = band(3200.0, order=6.0)
    told_apart = replace(findings(worst, band()), causes=())
    text = todo_sentence(contents(told_apart, sizing()))
    assert text.startswith("For the weaker drone at 2,240 rpm fit")


def _page_1(page: ReportContents) -> str:
    return " ".join(
        block.text for block in answer_section(page).blocks if isinstance(block, Note | Text)
    )


def test_odds_and_the_strongest_doubt_are_on_the_first_page_as_on_the_terminal() -> None:
    misses = Doubt(code="exhaust_misses_drive", message="It does not sound so. Check the lengths.")
    sized = replace(with_plans(), warnings=(misses, replace(misses, code="few_guesses_fit")))
    said = _page_1(contents(findings(band()), sized))
    odds = "it cures 88 at once, 93 once the cap is moved"
    assert odds in said
    assert odds in str(plan_words(sized.plans))
    assert "Look out: It does not sound so. 1 more below." in said


def test_that_the_exhaust_makes_it_is_not_claimed_before_it_is_checked() -> None:
    found = findings(band())
    check = "Put a microphone near the tailpipe."
    cause = Cause(
        frequency_hz=112.0,
        bands=(1,),
        locked_to=LockedTo.ENGINE,
        evidence=(),
        suspects=(),
        to_decide=(check, "With one recorder only, stand still.", "Open a window."),
    )
    said = _page_1(contents(replace(found, causes=(cause,)), sizing()))
    assert said.index("does not tell which") < said.index("Fit a closed")
    assert f"Check first. {check} With one recorder only, stand still." in said
    assert "without a check, at the risk" in said
    assert "Open a window" not in said
    told = OtherWay(share=0.1, span=Interval(low=0.05, high=0.2))
    said = _page_1(contents(replace(found, causes=(cause,)), replace(sizing(), other_way=told)))
    assert "Check first" not in said


def test_a_place_that_is_as_good_is_on_the_first_page() -> None:
    other = (branch(0.80, 0.32),)
    said = _page_1(contents(findings(band()), replace(sizing(), as_good=(other,))))
    assert "As good: 800 mm (31 1/2 in) long at 320 mm (13 in) from the collector." in said


def test_the_cautions_are_where_the_first_page_says() -> None:
    page = contents(findings(band()), sizing())
    assert "closed at both ends" in _page_1(page)
    assert "the last section below, or the first of the build sheets" in _page_1(page)
    cautions = make_sections(page)[-1]
    assert cautions.title == "Before you start: cautions"
    assert any("closed at both ends" in b.text for b in cautions.blocks if isinstance(b, Note))
