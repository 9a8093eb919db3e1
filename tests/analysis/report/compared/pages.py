"""Pages of two drives with any verdict, and what they say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

from analysis.compare.trim.built import BuiltBranch
from analysis.findings import DroneBand
from analysis.report.compared.outcome import next_step, outcome_sentence
from analysis.report.contents import ReportContents
from analysis.report.page import render_page
from analysis.verdicts import Comparison, Verdict
from tests.analysis.report.compared_examples import TRIM, comparison
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import sizing

BUILT = BuiltBranch(length_m=0.909, end_correction_m=0.01, bore_m=0.06, wanted_hz=112.0)
RIGHT = replace(TRIM, is_worth_it=False)
KEPT = "The length is right, so leave branch 1 at 909 mm (35 13/16 in)"
NAN = float("nan")
CHANGES_DB = {
    Verdict.CURED: -14.2,
    Verdict.REDUCED: -6.0,
    Verdict.UNCHANGED: -0.3,
    Verdict.WORSE: 4.0,
    Verdict.MOVED: -9.0,
    Verdict.CANNOT_TELL: NAN,
}


def two_drives(
    compared: Comparison, *after: DroneBand, built: bool = True, before: DroneBand | None = None
) -> ReportContents:
    """Both drives on one page, with a branch built in between or not."""
    page = contents(findings(before or band()), sizing(), compared, findings(*after, name="after"))
    return replace(page, built=(BUILT,) if built else ())


def compared(verdict: Verdict, **parts: object) -> Comparison:
    """Build a comparison with this verdict; nothing new and no trim unless said."""
    made = comparison(verdict, CHANGES_DB[verdict])
    return replace(made, **{"trims": (), "new_bands": (), **parts})  # type: ignore[arg-type]


def with_change(made: Comparison, **parts: object) -> Comparison:
    changes = (replace(made.changes[0], **parts), *made.changes[1:])  # type: ignore[arg-type]
    return replace(made, changes=changes)


def said(page: ReportContents) -> tuple[str, str]:
    assert page.comparison is not None
    return outcome_sentence(page, page.comparison), next_step(page, page.comparison)


def page_words(page: ReportContents) -> str:
    body = re.sub(r"<(script|style|svg)\b.*?</\1>", "", render_page(page), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ")
