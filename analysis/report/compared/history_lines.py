"""The lines of a history: the baseline's, and for each later drive that line plus its change.

Load and gear differ from drive to drive, and that alone moves an order by some decibels. A
comparison keeps them alike; so each drive is shown as if it had been driven as the baseline was.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.compare.history import History, HistoryDrive
from analysis.report.found.figure_levels import mean_curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One order's level over engine speed, in the baseline's unit; [shape=(n_bins,)]."""

    rpm: FloatArray
    level_db: FloatArray


def history_lines(history: History) -> dict[str, Line]:
    """Give each drive's line by its name, for the order of the baseline's worst drone."""
    band = history.worst_band
    curve = None if band is None else history.baseline.curve(band.engine_order)
    if band is None or curve is None or not curve.rpm.size:
        return {}
    rpm, level_db = mean_curve(curve, history.baseline.full_scale_db)
    first = Line(rpm=rpm, level_db=level_db)
    lines = {history.drives[0].name: first}
    for drive in history.drives[1:]:
        line = _line(drive, first, band.engine_order)
        if line is not None and _is_in_unit(drive, history.baseline.level_unit):
            lines[drive.name] = line
    return lines


def _is_in_unit(drive: HistoryDrive, level_unit: str) -> bool:
    """Tell levels of an order from overall levels, by which a drive of levels only is compared."""
    return drive.comparison is not None and drive.comparison.level_unit == level_unit


def _line(drive: HistoryDrive, first: Line, engine_order: float) -> Line | None:
    curves = () if drive.comparison is None else drive.comparison.curves
    pair = next((c for c in curves if c.engine_order == engine_order and c.rpm.size), None)
    known = np.isfinite(first.level_db)
    if pair is None or not known.any():
        return None
    as_baseline_db = np.interp(pair.rpm, first.rpm[known], first.level_db[known])
    return Line(rpm=pair.rpm, level_db=as_baseline_db + pair.after_db - pair.before_db)
