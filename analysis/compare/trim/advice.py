"""What to trim, by all that is known: on the whole exhaust, or else by frequency alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from analysis.compare.trim.built import BuiltBranch
from analysis.compare.trim.by_frequency import advise_trims
from analysis.compare.trim.on_exhaust import trims_on_exhaust
from analysis.findings import Doubt, Findings
from analysis.size.request import SizingRequest
from analysis.verdicts import Trim, TrimOutlook


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimAdvice:
    """Trims, what they would do together where that is known, and what cannot be told."""

    trims: tuple[Trim, ...] = ()
    outlook: TrimOutlook | None = None
    doubts: tuple[Doubt, ...] = ()


def trim_advice(
    baseline: Findings,
    postfix: Findings,
    built: Sequence[BuiltBranch],
    sized_by: SizingRequest | None,
    progress: Callable[[float], None],
) -> TrimAdvice:
    """Tell what to trim; ``sized_by`` is what the branches were sized by, if anybody knows."""
    if postfix.withheld or not built:
        return TrimAdvice()
    if sized_by is not None and not baseline.levels_only:
        on_exhaust = trims_on_exhaust(sized_by, baseline, postfix, built, progress)
        if on_exhaust is not None:
            return TrimAdvice(trims=on_exhaust.trims, outlook=on_exhaust.outlook)
    trims, doubts = advise_trims(baseline, postfix, built)
    return TrimAdvice(trims=trims, doubts=doubts)
