"""The lines of a history: the baseline's, and for each later drive that line plus its change.

Load and gear differ from drive to drive, and that alone moves an order by some decibels. A
comparison keeps them alike; so each drive is shown as if it had been driven as the baseline was.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.compare.history import History
from analysis.report.found.figure_levels import mean_curve
from analysis.verdicts import Comparison

# rpm, and level in the baseline's unit; [shape=(n_bins,)]
_Line = tuple[FloatArray, FloatArray]


def history_lines(history: History) -> dict[str, _Line]:
    """Give each drive's line by its name, for the order of the baseline's worst drone."""
    band = history.worst_band
    curve = None if band is None else history.baseline.curve(band.engine_order)
    if band is None or curve is None or not curve.rpm.size:
        return {}
    first = mean_curve(curve, history.baseline.full_scale_db)
    lines = {history.drives[0].name: first}
    for drive in history.drives[1:]:
        # a drive of levels only is compared by overall levels, in another unit
        if (
            drive.comparison is not None
            and drive.comparison.level_unit == history.baseline.level_unit
            and (line := _line(drive.comparison, first, band.engine_order)) is not None
        ):
            lines[drive.name] = line
    return lines


def _line(comparison: Comparison, first: _Line, engine_order: float) -> _Line | None:
    pair = next(
        (c for c in comparison.curves if c.engine_order == engine_order and c.rpm.size), None
    )
    rpm, level_db = first
    known = np.isfinite(level_db)
    if pair is None or not known.any():
        return None
    as_baseline_db = np.interp(pair.rpm, rpm[known], level_db[known])
    return pair.rpm, as_baseline_db + pair.after_db - pair.before_db
