"""The lines of a history: the baseline's, and for each run that line plus what the run changed.

Runs are driven with other loads and in other gears, and that alone moves an order by some decibels.
A comparison holds alike what both drives tell; so a run is shown as it would have been, had it been
driven as the baseline was.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from analysis.compare.history import History, Run
from analysis.find.curves.pass_table import curve_of
from analysis.report.found.figure_levels import mean_curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One order's level over engine speed, in the baseline's unit; [shape=(n_bins,)]."""

    rpm: FloatArray
    level_db: FloatArray


def history_lines(history: History) -> dict[str, Line]:
    """Give a line by name of the run, for the order of the baseline's worst drone."""
    band = history.worst_band
    curve = None if band is None else curve_of(history.baseline, band.engine_order)
    if band is None or curve is None or not curve.rpm.size:
        return {}
    rpm, level_db = mean_curve(curve, history.baseline.full_scale_db)
    first = Line(rpm=rpm, level_db=level_db)
    lines = {history.runs[0].name: first}
    for run in history.runs[1:]:
        line = _line(run, first, band.engine_order)
        if line is not None and _is_in_unit(run, history.baseline.level_unit):
            lines[run.name] = line
    return lines


def _is_in_unit(run: Run, level_unit: str) -> bool:
    """Tell levels of an order from overall levels, by which a run of levels only is compared."""
    return run.comparison is not None and run.comparison.level_unit == level_unit


def _line(run: Run, first: Line, engine_order: float) -> Line | None:
    curves = () if run.comparison is None else run.comparison.curves
    pair = next((c for c in curves if c.engine_order == engine_order and c.rpm.size), None)
    known = np.isfinite(first.level_db)
    if pair is None or not known.any():
        return None
    as_baseline_db = np.interp(pair.rpm, first.rpm[known], first.level_db[known])
    return Line(rpm=pair.rpm, level_db=as_baseline_db + pair.after_db - pair.before_db)
