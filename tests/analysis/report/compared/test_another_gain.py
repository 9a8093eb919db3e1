"""Two drives of which one was recorded at another gain: what counts, and what to do first."""
# SPDX-License-Identifier: GPL-2.0-or-later

import pytest

from analysis.report.blocks import Chart
from analysis.report.compared.figure_compare import outcome_picture
from analysis.verdicts import GainChange, Verdict
from tests.analysis.report.compared.pages import compared, said, two_drives, with_change


def test_gain_turned_down_is_not_sold_as_a_success() -> None:
    gain = GainChange(gain_db=-11.5, sd_db=1.5, is_taken_off=False)
    made = with_change(compared(Verdict.UNCHANGED, gain=gain), level_change_db=-12.0)
    sentence, step = said(two_drives(made))
    assert sentence.startswith("No difference can be shown: ")
    assert "but the recording itself seems to be 12 dB quieter (gain or microphone pl" in sentence
    assert step.startswith("Cut nothing: put the microphone")


def test_a_cure_under_a_suspected_gain_says_both_readings_of_the_drone() -> None:
    gain = GainChange(gain_db=-4.0, sd_db=1.5, is_taken_off=False)
    sentence, step = said(two_drives(compared(Verdict.CURED, gain=gain)))
    assert sentence.startswith("It worked")
    assert "14 dB quieter" in sentence
    assert "with that taken off the drone is still 10 dB quieter: cured either way" in sentence
    assert ", but" not in sentence
    assert step.startswith("Leave it")


def test_a_gain_that_was_taken_off_is_said_and_cures_still_count() -> None:
    gain = GainChange(gain_db=-8.2, sd_db=0.6, is_taken_off=True)
    made = compared(Verdict.CURED, gain=gain)
    sentence, _ = said(two_drives(made))
    assert sentence.startswith("It worked")
    assert "14 dB quieter" in sentence
    assert "the recording as a whole is 8 dB quieter (gain or microphone place)" in sentence
    picture = outcome_picture(two_drives(made), made)
    assert isinstance(picture, Chart)
    assert "The drive after is drawn 8 dB louder than it was recorded" in picture.summary


@pytest.mark.parametrize("verdict", [Verdict.UNCHANGED, Verdict.CANNOT_TELL])
def test_with_another_gain_suspected_the_setup_comes_first(verdict: Verdict) -> None:
    gain = GainChange(gain_db=-5.0, sd_db=1.5, is_taken_off=False)
    made = compared(verdict, gain=gain)
    assert said(two_drives(made))[1].startswith("Cut nothing")
