"""Which drive of a history is the best so far."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

from analysis.compare.history import History, HistoryDrive
from analysis.compare.judgement import all_cured, amount_is_sure, headline
from analysis.verdicts import Verdict


def best_drive(history: History) -> HistoryDrive | None:
    """Of the drives in which the worst drone got quieter, the one whose loudest drone is quietest.

    A drive that may have been recorded with less gain, or from another place, is chosen only where
    there is no other: its levels may be lower for that reason alone.
    """
    better = [
        drive
        for drive in history.drives
        if drive.comparison is not None
        and (change := headline(drive.comparison)) is not None
        and change.verdict in (Verdict.CURED, Verdict.REDUCED)
    ]
    sure = [drive for drive in better if not is_doubtful(drive)]
    return min(sure or better, key=_loudest_left_db, default=None)


def is_doubtful(drive: HistoryDrive) -> bool:
    """Whether a change of recording gain or microphone place may be in its levels."""
    return drive.comparison is not None and not amount_is_sure(drive.comparison)


def all_is_cured(drive: HistoryDrive) -> bool:
    """Whether every drone that the exhaust can be blamed for is gone, and nothing new came up."""
    return drive.comparison is not None and all_cured(drive.comparison)


def _loudest_left_db(drive: HistoryDrive) -> float:
    """Level of the loudest drone that is left or new: what a driver hears most.

    A change that is not known counts as none.
    """
    if drive.comparison is None:
        return math.inf
    left = [
        c.band.level_db + (c.level_change_db if math.isfinite(c.level_change_db) else 0.0)
        for c in drive.comparison.changes
    ]
    return max((*left, *(band.level_db for band in drive.comparison.new_bands)))


def is_as_good(drive: HistoryDrive, best: HistoryDrive) -> bool:
    """Whether a drive cannot be told from the best: same verdicts, overlapping intervals."""
    one, other = drive.comparison, best.comparison
    if drive is best or one is None or other is None or is_doubtful(drive):
        return False
    if len(one.new_bands) > len(other.new_bands):
        return False
    return all(
        mine.verdict is its.verdict
        and mine.ci95_db.low <= its.ci95_db.high
        and its.ci95_db.low <= mine.ci95_db.high
        for mine, its in zip(one.changes, other.changes, strict=True)
    )
