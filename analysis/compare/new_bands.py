"""Bands of the post-fix drive that the baseline does not have."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.compare.match.level_change import ENOUGH_SHARED
from analysis.compare.match.pair import DrivePair
from analysis.find.curves.pass_table import bins_within
from analysis.findings import DroneBand, Findings

Bands = tuple[DroneBand, ...]


def new_bands(pair: DrivePair) -> tuple[Bands, Bands]:
    """Give the bands that are new, and those where the baseline did not drive, so nobody knows.

    Overall levels against sound tell neither.
    """
    if pair.is_mixed or pair.postfix.level_was_held:
        return (), ()
    fresh = [b for b in pair.postfix.bands if not _overlaps_any(b, pair.baseline.bands)]
    new = tuple(band for band in fresh if _drove_through(band, pair.baseline))
    return new, tuple(band for band in fresh if band not in new)


def _overlaps_any(band: DroneBand, others: Bands) -> bool:
    return any(
        other.engine_order == band.engine_order
        and other.low_rpm <= band.high_rpm
        and band.low_rpm <= other.high_rpm
        for other in others
    )


def _drove_through(band: DroneBand, findings: Findings) -> bool:
    curve = findings.curve(band.engine_order)
    if curve is None:
        return False
    held = np.isin(bins_within(band.low_rpm, band.high_rpm), curve.bin_index)
    return bool(held.mean() >= ENOUGH_SHARED)
