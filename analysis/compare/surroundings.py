"""What else bears on the verdict on one band, besides the change of its level."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

from analysis.compare.match.level_change import ENOUGH_SHARED, LevelChange
from analysis.compare.match.levels_of_sound import could_fall_db, weighting_of
from analysis.compare.match.pair import DrivePair
from analysis.findings import DroneBand, Findings
from analysis.verdicts import GainChange

# judgement: a new band this far under the old one still counts as the drone.
MOVED_WITHIN_DB = 6.0  # a new band this far under the old one still counts as the drone


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What else bears on the verdict on one band.

    Attributes
    ----------
    left : a band of the same order that peaks within the old one, in the post-fix drive
    moved_to : a band of the same order that rose elsewhere, nearly as loud as the old one
    gain : change of gain or microphone place that may be in every level; None for none
    withheld : why a drive gives no level to judge by; None when both do
    of_drive : which one that is
    overall_unit : unit of the overall level, where the drives hold no more; None for an order's own
    could_fall_db : how far that level would fall if the drone ended; None for an order's own level
    """

    left: DroneBand | None
    moved_to: DroneBand | None
    gain: GainChange | None = None
    withheld: str | None = None
    of_drive: str = "post-fix drive"
    overall_unit: str | None = None
    could_fall_db: float | None = None


def surroundings_of(band: DroneBand, pair: DrivePair) -> Surroundings:
    """Look around one band of the baseline."""
    postfix = pair.postfix
    weighting = weighting_of(postfix)
    return Surroundings(
        left=next((b for b in _same_order(band, postfix) if _peaks_within(b, band)), None),
        moved_to=_moved_to(band, pair),
        gain=pair.suspected_gain,
        withheld=postfix.no_levels or pair.baseline.no_levels,
        of_drive="post-fix drive" if postfix.no_levels else "baseline",
        overall_unit=postfix.level_unit if postfix.levels_only else None,
        could_fall_db=None if weighting is None else could_fall_db(pair.heard, band, weighting),
    )


def _moved_to(band: DroneBand, pair: DrivePair) -> DroneBand | None:
    """Loudest band that took over: same order, elsewhere, nearly as loud, and risen there."""
    candidates = [
        other
        for other in _same_order(band, pair.postfix)
        if not _peaks_within(other, band)
        and other.level_db >= band.level_db - MOVED_WITHIN_DB
        and _may_have_risen(pair.change_in(other))
    ]
    return max(candidates, key=lambda other: other.level_db, default=None)


def _may_have_risen(change: LevelChange) -> bool:
    """Tell a band that came up from one that was as loud before; in doubt, it came up."""
    return change.shared < ENOUGH_SHARED or change.ci95_db.low > 0.0


def _same_order(band: DroneBand, findings: Findings) -> list[DroneBand]:
    return [other for other in findings.bands if other.engine_order == band.engine_order]


def _peaks_within(inner: DroneBand, outer: DroneBand) -> bool:
    return outer.low_rpm <= inner.peak_rpm <= outer.high_rpm
