"""What was said of many drives, as lines to print: by kind of fault, and by warning."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from tests.benchmarks.doubts.faults import FAULTS

_CLIMBS_ON = "climbs_on"  # no fault of its own: true or not on any drive
_NO_CLIMB_DB, _CLIMB_DB = 6.0, 12.0  # must not be told below, must be from here on


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What was said of one drive."""

    kind: str
    name: str
    codes: frozenset[str]
    bands: int = 0
    false_bands: int = 0
    off_bands: int = 0
    road_bands: int = 0
    is_withheld: bool = False
    is_silent: bool = False
    climb_db: float = 0.0  # highest true climb to an end of what was driven

    @property
    def is_told(self) -> bool:
        """Whether a warning names the fault."""
        return bool(self.codes & FAULTS[self.kind].codes)


def rows(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Give a line for each kind of fault."""
    yield (
        f"{'kind':22s}{'drives':>7s}{'told':>6s}{'missed':>8s}{'withheld':>10s}{'silent':>8s}"
        f"{'bands':>7s}{'false':>7s}{'off':>5s}{'road':>6s}"
    )
    for kind in dict.fromkeys(each.kind for each in outcomes):
        own = [each for each in outcomes if each.kind == kind]
        told = sum(each.is_told for each in own)
        numbers = f"{told:6d}{len(own) - told:8d}" if FAULTS[kind].codes else f"{'-':>6s}{'-':>8s}"
        yield (
            f"{kind:22s}{len(own):7d}{numbers}{sum(each.is_withheld for each in own):10d}"
            f"{sum(each.is_silent for each in own):8d}{sum(each.bands for each in own):7d}"
            f"{sum(each.false_bands for each in own):7d}{sum(each.off_bands for each in own):5d}"
            f"{sum(each.road_bands for each in own):6d}"
        )


def by_warning(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Give a line for each warning: how often it came with its fault, and how often without."""
    kinds = dict.fromkeys(each.kind for each in outcomes)
    named = dict.fromkeys(code for kind in kinds for code in sorted(FAULTS[kind].codes))
    yield f"{'warning':22s}{'with its fault':>22s}{'without':>22s}"
    for code in (*named, _CLIMBS_ON):
        own = [each for each in outcomes if _is_due(each, code)]
        others = [each for each in outcomes if not _may(each, code)]
        # a fault that two warnings may name is told by either
        seen = sum(each.is_told if code in named else code in each.codes for each in own)
        raised = sum(code in each.codes for each in others)
        yield f"{code:22s}{_share(seen, len(own)):>22s}{_share(raised, len(others)):>22s}"


def _share(count: int, whole: int) -> str:
    return f"{count} of {whole}" + (f" ({100.0 * count / whole:.0f} %)" if whole else "")


def _is_due(outcome: Outcome, code: str) -> bool:
    if code == _CLIMBS_ON:
        return outcome.climb_db >= _CLIMB_DB and not outcome.is_withheld
    return code in FAULTS[outcome.kind].codes


def _may(outcome: Outcome, code: str) -> bool:
    if code == _CLIMBS_ON:
        return outcome.climb_db >= _NO_CLIMB_DB or outcome.is_withheld
    return code in FAULTS[outcome.kind].codes | FAULTS[outcome.kind].may


def false_alarms(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """Which warnings came on drives without their fault, kind by kind."""
    for kind in dict.fromkeys(each.kind for each in outcomes):
        own = [each for each in outcomes if each.kind == kind]
        counts = Counter(code for each in own for code in each.codes if not _may(each, code))
        shares = ", ".join(f"{code} {count}" for code, count in counts.most_common())
        yield f"  {kind:22s} of {len(own)}: {shares or 'none'}"


def gone_wrong(outcomes: Iterable[Outcome]) -> Iterator[str]:
    """Name each drive whose fault was missed or of which a band was told that is not there."""
    for outcome in outcomes:
        if FAULTS[outcome.kind].codes and not outcome.is_told:
            yield f"missed: {outcome.name}, told {', '.join(sorted(outcome.codes)) or 'nothing'}"
        if outcome.false_bands:
            yield f"false bands: {outcome.name}, {outcome.false_bands} of {outcome.bands}"
