"""Two drives in two sentences, for every verdict; and nothing on the page that contradicts them."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.compare.match.level_change import LevelChange
from analysis.compare.match.pair import drive_pair
from analysis.compare.verdict import judge
from analysis.findings import LockedTo, SteadyTone
from analysis.report.answer import answer_section
from analysis.report.blocks import Chart, Note, Tone
from analysis.report.compared.figure_compare import other_order_charts, outcome_picture
from analysis.report.compared.outcome import outcome_tone
from analysis.report.sections import make_sections
from analysis.verdicts import Comparison, GainChange, Verdict
from tests.analysis.report.compared.pages import (
    RIGHT,
    compared,
    page_words,
    said,
    two_drives,
    with_change,
)
from tests.analysis.report.compared_examples import TRIM
from tests.analysis.report.found_examples import band, findings, levels_only


@pytest.mark.parametrize(
    ("verdict", "start"),
    [
        (
            Verdict.CURED,
            "It worked: the drone at 112 Hz (2,240 rpm) is 14 dB quieter than before (between "
            "12.9 and 15.6 dB quieter, with 95 % confidence).",
        ),
        (
            Verdict.REDUCED,
            "It helped, but not enough: the drone at 112 Hz (2,240 rpm) is 6 dB quieter than "
            "before (between 4.7 and 7.4 dB quieter, with 95 % confidence).",
        ),
        (
            Verdict.UNCHANGED,
            "It made no difference: the drone at 112 Hz (2,240 rpm) is as loud as before (between "
            "1.7 dB quieter and 1.0 dB louder, with 95 % confidence).",
        ),
        (
            Verdict.WORSE,
            "It got worse: the drone at 112 Hz (2,240 rpm) is 4 dB louder than before (between "
            "2.6 and 5.3 dB louder, with 95 % confidence).",
        ),
        (
            Verdict.MOVED,
            "The drone moved: at 112 Hz (2,240 rpm) it is 9 dB quieter than before (between 7.7 "
            "and 10.4 dB quieter, with 95 % confidence), but the same order now drones at 2,900 "
            "rpm (145 Hz).",
        ),
        (
            Verdict.CANNOT_TELL,
            "Whether it worked cannot be told: the post-fix drive never reached this engine speed.",
        ),
    ],
)
def test_each_verdict_says_by_how_much_and_how_sure(verdict: Verdict, start: str) -> None:
    now = [band(2900.0, rise_db=7.0)] if verdict is Verdict.MOVED else []
    made = compared(verdict, new_bands=tuple(now))
    page = two_drives(made, *now)
    assert said(page)[0] == start
    assert outcome_tone(made) is (Tone.GOOD if verdict is Verdict.CURED else Tone.CARE)


@pytest.mark.parametrize("verdict", list(Verdict))
@pytest.mark.parametrize("trims", [(), (RIGHT,), (TRIM,)])
@pytest.mark.parametrize("built", [True, False])
def test_the_answer_is_two_sentences_and_one_picture(
    verdict: Verdict, trims: tuple[object, ...], built: bool
) -> None:
    page = two_drives(compared(verdict, trims=trims), built=built)
    note, picture = answer_section(page).blocks
    assert isinstance(note, Note)
    assert len(re.findall(r"[.](?: |$)", note.text)) == 2
    assert isinstance(picture, Chart)
    assert "nan" not in note.text + picture.summary


def test_the_evidence_follows_the_answer() -> None:
    sections = make_sections(two_drives(compared(Verdict.REDUCED, trims=(TRIM,)), built=True))
    assert [section.name for section in sections[:2]] == ["answer", "proof"]


def risen(low_rpm: float, high_rpm: float, by_db: float) -> Comparison:
    """Build a cure whose order is this much louder over one stretch."""
    made = compared(Verdict.CURED)
    curve = made.curves[0]
    there = (curve.rpm >= low_rpm) & (curve.rpm <= high_rpm)
    return replace(made, curves=(replace(curve, after_db=curve.after_db + by_db * there),))


def test_what_got_louder_beside_the_drone_is_in_the_answer() -> None:
    sentence = said(two_drives(risen(1400.0, 1700.0, 4.0)))[0]
    assert "; but from 1,410 to 1,690 rpm it is up to 4 dB louder, there " in sentence
    assert sentence.endswith(" less than the drone was.")


@pytest.mark.parametrize(
    ("low_rpm", "high_rpm", "by_db"),
    [(1400.0, 1700.0, 1.5), (1400.0, 1420.0, 9.0), (2100.0, 2300.0, 5.0)],
)
def test_a_little_one_bin_and_the_drone_itself_are_no_louder_stretch(
    low_rpm: float, high_rpm: float, by_db: float
) -> None:
    assert "louder" not in said(two_drives(risen(low_rpm, high_rpm, by_db)))[0]


def test_what_find_names_after_the_work_was_heard_before() -> None:
    made, there = compared(Verdict.CURED), band(1450.0)
    picture = outcome_picture(two_drives(made, there), made)
    assert isinstance(picture, Chart)
    assert picture.summary.endswith(
        "no new tone. What stands out only now was heard before too: order 3 at 1,450 rpm (as "
        "loud now)."
    )
    assert "stands out" not in outcome_picture(two_drives(made), made).summary  # type: ignore[union-attr]


def test_an_order_without_a_drone_before_is_not_called_silent_nor_quieter() -> None:
    """Its level at the drone's engine speed is told once, and no other level beside it."""
    made = compared(Verdict.CURED)
    other = replace(made.curves[0], engine_order=1.5)
    made = replace(made, curves=(*made.curves, other))
    (chart,) = other_order_charts(two_drives(made, replace(band(2520.0), engine_order=1.5)), made)
    assert chart.summary == (
        "Solid: before. Dashed: after. Before, no drone stood out on this order."
    )


def test_nothing_is_trimmed_while_it_cannot_be_told() -> None:
    page = two_drives(compared(Verdict.CANNOT_TELL, trims=(TRIM,)))
    assert said(page)[1].startswith("Cut nothing, and drive again")
    assert "Shorten" not in said(page)[1]


def test_without_a_branch_none_is_trimmed() -> None:
    step = said(two_drives(compared(Verdict.UNCHANGED), built=False))[1]
    assert "give its length with --built" in step
    now = band(2900.0)
    moved = two_drives(compared(Verdict.MOVED, new_bands=(now,)), now, built=False)
    assert said(moved)[1].startswith("Size a branch for 145 Hz from the post-fix drive")


def test_levels_alone_do_not_ask_for_what_they_cannot_use() -> None:
    page = replace(two_drives(compared(Verdict.REDUCED), built=False), findings=levels_only())
    assert said(page)[1].startswith("Record sound on the next drives")


def test_a_cure_with_a_new_drone_as_loud_is_no_success() -> None:
    now = band(2900.0, rise_db=7.0)
    made = compared(Verdict.CURED, new_bands=(now, band(1450.0, order=6.0)))
    sentence, step = said(two_drives(made, now))
    assert sentence.endswith(
        "; a new drone has appeared at 2,900 rpm (145 Hz), as loud as the drone was."
    )
    assert step.startswith("Weld nothing yet: the new drone is about as bad.")
    assert "The post-fix drive cannot be sized" in step
    assert outcome_tone(made) is Tone.CARE
    bare = two_drives(made, now, built=False)
    assert said(bare)[1].endswith("size a branch for it from the post-fix drive.")


def test_a_new_drone_as_faint_as_a_cured_one_keeps_nobody_from_welding() -> None:
    now = replace(band(2900.0, rise_db=7.0), level_db=band().level_db - 12.0)
    made = compared(Verdict.CURED, new_bands=(now,))
    sentence, step = said(two_drives(made, now))
    assert sentence.endswith("(145 Hz), 12 dB less than the drone was.")
    assert step == "Leave it, and weld the cap where it stands."
    assert outcome_tone(made) is Tone.GOOD
    in_doubt = replace(made, gain=GainChange(gain_db=-4.0, sd_db=1.0, is_taken_off=False))
    assert said(two_drives(in_doubt, now))[1].startswith("Weld nothing yet. Size again")


def test_a_branch_that_may_sing_is_named() -> None:
    tone = SteadyTone(frequency_hz=336.0, low_rpm=1800.0, high_rpm=2600.0, out_db=9.0)
    sentence, step = said(two_drives(compared(Verdict.CURED, whistles=(tone,))))
    assert "a new tone at 336 Hz" in sentence
    assert step.startswith("Before you weld the cap, round the edge")


def test_other_drones_with_another_verdict_are_named() -> None:
    made = compared(Verdict.CURED)
    other = replace(made.changes[0], band=band(1500.0), verdict=Verdict.UNCHANGED)
    both = replace(made, changes=(*made.changes, other))
    assert said(two_drives(both))[0].endswith("; at 75.0 Hz it made no difference.")
    assert outcome_tone(both) is Tone.CARE


def test_a_louder_drone_of_the_road_is_not_the_answer() -> None:
    made = compared(Verdict.CURED)
    road = replace(
        made.changes[0],
        band=band(1500.0, locked_to=LockedTo.ROAD),
        verdict=Verdict.UNCHANGED,
        level_change_db=0.2,
    )
    both = replace(made, changes=(road, *made.changes))
    assert said(two_drives(both))[0].startswith("It worked")
    assert outcome_tone(both) is Tone.GOOD
    only = replace(made, changes=(road,))
    assert "no branch" in said(two_drives(only, before=road.band))[1]


def test_a_drone_lost_in_the_noise_fell_by_at_least_so_much() -> None:
    made = with_change(compared(Verdict.CURED), ci95_db=Interval(low=-75.0, high=-12.5))
    assert "(at least 12.5 dB quieter, with 95 % confidence)" in said(two_drives(made))[0]


@pytest.mark.parametrize(
    ("shared", "buried", "withheld", "reason"),
    [
        (0.2, False, None, "both drives share only 20 % of the band's engine speeds"),
        (1.0, True, None, "the baseline drone does not stand out of the other noise."),
        (1.0, False, "the sound is lost", "gives no result, because the sound is lost."),
        (1.0, False, None, "the order's level changed by -2.0 dB (95 %"),
    ],
)
def test_the_reason_is_the_judge_s_and_what_to_drive_is_the_answer_s(
    shared: float, buried: bool, withheld: str | None, reason: str
) -> None:
    change = LevelChange(
        change_db=-2.0,
        ci95_db=Interval(low=-8.0, high=4.0),
        shared=shared,
        before_buried=buried,
        after_buried=False,
        passes_before=1,
        passes_after=1,
        smallest_change_db=6.0,
    )
    pair = drive_pair(findings(band()), replace(findings(name="after"), withheld=withheld))
    verdict, why = judge(band(), change, pair)
    assert verdict is Verdict.CANNOT_TELL
    sentence, step = said(two_drives(with_change(compared(verdict), why=why)))
    assert reason in sentence
    assert "; " not in sentence  # what to do stands in the second sentence, once
    assert "15 to 60 s each way, three times" in step


def test_a_first_drive_without_a_drone_proves_nothing() -> None:
    made = replace(compared(Verdict.CURED), changes=())
    page = replace(two_drives(made), findings=findings())
    sentence, step = said(page)
    assert sentence.startswith("There was nothing to cure: between 1,210 rpm and 3,390 rpm")
    assert "nothing can be proved" in step
    withheld = replace(page, findings=replace(findings(), withheld="the sound is lost"))
    assert said(withheld)[0] == (
        "Nothing can be compared: the baseline gives no result, because the sound is lost."
    )


@pytest.mark.parametrize("verdict", list(Verdict))
def test_the_page_neither_claims_another_verdict_nor_tells_to_build_again(
    verdict: Verdict,
) -> None:
    text = page_words(two_drives(compared(verdict, trims=(RIGHT,))))
    claims = {
        Verdict.CURED: "the drone is gone",
        Verdict.REDUCED: "quieter, but still there",
        Verdict.UNCHANGED: "no real change",
        Verdict.WORSE: "louder than before:",
        Verdict.MOVED: "gone here, back at another engine speed",
    }
    assert [claim for claim in claims.values() if claim in text] == [
        claim for own, claim in claims.items() if own is verdict and claim in text
    ]
    assert ("weld the cap" in text.lower()) == (verdict is Verdict.CURED)
    for build in ("What to build", "Make the cap slide", "Fit a closed side branch"):
        assert build not in text
    order = ["Did it work?", "The evidence", "Baseline: what was found"]
    assert order == sorted(order, key=text.index)
