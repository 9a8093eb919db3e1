"""A page in a few words, for whoever lists pages: they stand in its head, as its description."""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.compare.judgement import all_cured, amount_is_sure, headline, maybe_two_cars
from analysis.report.answer import to_check_first
from analysis.report.contents import ReportContents
from analysis.verdicts import Comparison, Verdict
from analysis.words.quantities import quieter

_CHECK_FIRST = "check first whether the exhaust makes the drone"
_WITH_AMOUNT = (Verdict.CURED, Verdict.REDUCED, Verdict.WORSE)


def in_short(contents: ReportContents) -> str:
    """Give the verdict, 'cured: 22 dB quieter', or that something is to be checked first.

    Nothing where a page has no more to say than that a branch is sized, or none.
    """
    if contents.comparison is not None:
        return _verdict(contents.comparison)
    return _CHECK_FIRST if to_check_first(contents) else ""


def _verdict(comparison: Comparison) -> str:
    change = headline(comparison)
    if change is None:
        return "there was nothing to cure"
    if maybe_two_cars(comparison) is not None:
        return "these may be two cars"
    said = change.verdict.value
    if change.verdict in _WITH_AMOUNT:
        said += f": {quieter(change.level_change_db)}"
        said += "" if amount_is_sure(comparison) else " as recorded"
    if change.verdict is Verdict.CURED and not all_cured(comparison):
        return f"worst drone {said}, but not all is well"
    return said
