"""What two drives come to as a whole: one judgement for page, terminal, history and desk.

A verdict already allows for a suspected change of gain (:mod:`analysis.compare.verdict`): where it
still says cured, it is. Only by how much is then not sure.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from analysis.findings import LockedTo
from analysis.verdicts import BandChange, Comparison, Verdict, suspected


def headline(comparison: Comparison) -> BandChange | None:
    """Band that the answer is about: the worst that the exhaust can be blamed for."""
    return next(iter(_own(comparison) or comparison.changes), None)


def all_cured(comparison: Comparison) -> bool:
    """Whether every drone that the exhaust can be blamed for is gone, and nothing new came up."""
    own = _own(comparison)
    has_news = bool(comparison.new_bands or comparison.whistles)
    return bool(own) and all(c.verdict is Verdict.CURED for c in own) and not has_news


def amount_is_sure(comparison: Comparison) -> bool:
    """Whether no change of gain or microphone place may be in the levels."""
    return suspected(comparison.gain) is None


def _own(comparison: Comparison) -> list[BandChange]:
    return [c for c in comparison.changes if c.band.locked_to is not LockedTo.ROAD]
