"""What the page says of two drives that may be of two cars."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from analysis.findings import Doubt
from analysis.report.blocks import Tone
from analysis.report.compared.outcome import outcome_tone
from analysis.verdicts import Verdict
from tests.analysis.report.compared.pages import compared, said, two_drives


def test_drives_that_share_no_gear_are_not_said_to_have_worked() -> None:
    doubt = Doubt(code="other_gearing", message="No gear of after is one of before.")
    made = compared(Verdict.CURED, warnings=(doubt,))
    outcome, then = said(two_drives(made))
    assert outcome.startswith("These may be two cars. If they are one: it worked: the drone")
    assert then == "No gear of after is one of before."
    assert outcome_tone(made) is Tone.CARE
