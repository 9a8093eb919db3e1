"""A page in a few words, as its head describes it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from analysis.report.in_short import in_short
from analysis.report.page import render_page
from analysis.verdicts import Comparison, GainChange, Verdict
from tests.analysis.report.compared_examples import comparison
from tests.analysis.report.examples import contents, every_case
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import sizing

GAIN = GainChange(gain_db=-4.0, sd_db=1.0, is_taken_off=False)


def said(verdict: Verdict, change_db: float, **parts: object) -> str:
    made: Comparison = comparison(verdict, change_db)
    made = replace(made, **{"new_bands": (), **parts})  # type: ignore[arg-type]
    return in_short(contents(findings(band()), sizing(), made, findings(name="after")))


@pytest.mark.parametrize(
    ("verdict", "change_db", "words"),
    [
        (Verdict.CURED, -21.6, "cured: 22 dB quieter"),
        (Verdict.REDUCED, -6.0, "reduced: 6 dB quieter"),
        (Verdict.WORSE, 4.0, "worse: 4 dB louder"),
        (Verdict.UNCHANGED, -0.3, "unchanged"),
        (Verdict.CANNOT_TELL, float("nan"), "cannot tell"),
    ],
)
def test_a_proof_is_its_verdict(verdict: Verdict, change_db: float, words: str) -> None:
    assert said(verdict, change_db) == words


def test_a_cure_beside_something_new_is_not_all() -> None:
    assert said(Verdict.CURED, -21.6, new_bands=(band(),)) == (
        "worst drone cured: 22 dB quieter, but not all is well"
    )


def test_what_the_recording_may_have_done_is_not_claimed() -> None:
    assert said(Verdict.CURED, -21.6, gain=GAIN) == "cured: 22 dB quieter as recorded"


def test_a_sizing_says_only_what_is_to_be_checked_before_it() -> None:
    sized = contents(findings(band()), sizing())
    assert sized.findings.causes
    assert in_short(sized) == "check first whether the exhaust makes the drone"
    assert in_short(replace(sized, findings=replace(sized.findings, causes=()))) == ""


def test_it_stands_in_the_head_of_the_page() -> None:
    page = every_case()["cured"]
    described = re.search('<meta name="description" content="([^"]*)">', render_page(page)[:4_000])
    assert described is not None
    assert described[1] == in_short(page) != ""
