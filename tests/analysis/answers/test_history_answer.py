"""What is said of a history."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analysis.answers.history_answer import history_answer
from analysis.compare.best_drive import all_is_cured
from analysis.findings import LockedTo
from analysis.verdicts import Verdict, suspected
from tests.analysis.compare.history_examples import (
    BAND,
    BASELINE,
    LEFT,
    dated,
    drive,
    three_drives,
)
from tests.analysis.made_findings import make_band


def test_a_cure_is_told_in_two_sentences() -> None:
    assert history_answer(three_drives()) == (
        "Best so far: 'trimmed'. The drone at 2,240 rpm is cured, 14 dB quieter than in "
        "'baseline'; nothing new."
    )


def test_a_latest_drive_that_is_not_the_best_is_told() -> None:
    made = dated(("a", drive(-14.0)), ("b", drive(-6.5, (LEFT,))))
    told = "nothing new. In 'b', the latest, it is quieter, but not cured \\([67] dB quieter\\).$"
    assert re.search(told, history_answer(made))  # 6.5 dB, to either side


def test_drives_that_cannot_be_told_apart_are_called_as_good() -> None:
    made = dated(("a", drive(-14.0)), ("b", drive(-13.9)))
    assert history_answer(made).endswith(" is as good, as far as these drives can tell.")


@pytest.mark.parametrize(
    ("change_db", "told"), [(0.3, "is as loud as before."), (6.0, "is louder.")]
)
def test_no_better_drive(change_db: float, told: str) -> None:
    assert history_answer(dated(("a", drive(change_db, (BAND,))))) == (
        "No drive is better than 'baseline' so far: in 'a', the latest, the drone at 2,240 rpm "
        f"{told}"
    )


def test_a_change_of_gain_makes_the_answer_uncertain() -> None:
    quiet = drive(-6.5, gain_db=-8.0, other_orders=())
    beside = history_answer(dated(("cured", drive(-14.0)), ("less gain", quiet)))
    assert "'less gain', the latest" in beside
    assert beside.endswith("gain or microphone place seem to differ from the baseline's.")
    alone = history_answer(dated(("less gain", quiet)))
    assert "quieter than in 'baseline', but how much is not sure: gain" in alone
    taken_off = dated(("less gain", drive(-16.0, gain_db=-8.0)), ("cured", drive(-13.0)))
    assert "gain" not in history_answer(taken_off).replace("'less gain'", "")


def test_a_cure_that_a_change_of_gain_leaves_standing_is_called_one() -> None:
    """As the page of those two drives says: it worked."""
    loud = drive(-17.0, gain_db=4.0, other_orders=())
    made = dated(("more gain", loud))
    comparison = made.drives[1].comparison
    assert comparison is not None
    assert suspected(comparison.gain) is not None
    assert comparison.changes[0].verdict is Verdict.CURED
    told = history_answer(made)
    assert "is cured, 1" in told
    assert "even if gain or microphone place differ" in told
    assert "not sure" not in told
    assert all_is_cured(made.drives[1])


def test_a_drone_of_the_road_is_not_what_the_answer_is_about() -> None:
    """The page of two drives blames the exhaust for what follows the engine only."""
    road = replace(make_band(1.5, 1800.0, level_db=90.0), locked_to=LockedTo.ROAD)
    baseline = replace(BASELINE, bands=(road, BAND))
    told = history_answer(dated(("a", drive(-14.0, (road,))), baseline=baseline))
    assert told.startswith("Best so far: 'a'. The drone at 2,240 rpm is cured")


def test_new_and_weaker_drones_are_named() -> None:
    new = make_band(6.0, 1500.0, level_db=79.0)
    told = history_answer(dated(("loud", drive(-16.0, (new,)))))
    assert "but there is a new drone at 1,500 rpm" in told
    weaker = make_band(1.5, 1800.0, level_db=72.0)
    baseline = drive(bands=(BAND, weaker))
    told = history_answer(dated(("a", drive(-14.0, (weaker,))), baseline=baseline))
    assert "; weaker drones: unchanged at 1,800 rpm; nothing new." in told


def test_nothing_to_follow() -> None:
    assert history_answer(dated(("a", drive(-14.0)), baseline=drive())) == (
        "Nothing to follow: no drone was found in the baseline, 'baseline'."
    )
    withheld = replace(drive(), withheld="the sound is clipped")
    told = history_answer(dated(("a", drive()), baseline=withheld))
    assert "gives no result, because the sound is clipped" in told
    unlike = history_answer(dated(("a", replace(BASELINE, level_unit="dB SPL"))))
    assert unlike.startswith("No drive can be compared with 'baseline'")
