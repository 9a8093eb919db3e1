"""A history in one picture: the order's level over engine speed, and the drone drive by drive."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.basics.cure import CURED_DB
from analysis.compare.best_drive import best_drive, is_doubtful
from analysis.compare.history import History, HistoryDrive
from analysis.findings import DroneBand
from analysis.report.blocks import Chart
from analysis.report.figure_style import (
    GREEN,
    GREY,
    INK,
    add_curve,
    add_lower_panel,
    arms,
    new_figure,
    shade_band,
)
from analysis.report.found.figure_levels import hold_axis, mean_curve
from analysis.verdicts import BandChange, Comparison
from analysis.words import quantities as words

# judgement: layout, moves no answer.
_LEVELS_PX, _GAP_PX = 340, 84
_NEAR = (0.8, 1.25)  # of the drone's rpm: where no line may leave the picture
_AXIS_ROOM_DB = 2.0
_ROW_PX = 52
_TEXT_UP = 0.42  # rows: how far a drive's name stands above its point
_LEAST_RANGE_DB = (-17.0, 3.0)
_ROOM_DB = 2.0
_LONGEST_ARM_DB = 8.0  # an interval without an end runs out of the panel
_EARLIEST_RGB, _LATEST_RGB = (128, 178, 212), (0, 78, 128)  # judgement: layout, moves no answer
# A symbol for each drive, so that no shade has to be told from another.
_SYMBOLS = ("circle", "square", "diamond", "star", "hexagon", "triangle-up", "triangle-down", "x")
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
_LONGEST = 18  # judgement: layout, characters of a name
_add_change = partial(add_curve, x_decimals=2, readout="%{x:+.1f} dB", panel="2")
# rpm, and level in the baseline's unit; [shape=(n_bins,)]
_Line = tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """How a drive is drawn in both panels; strong are the baseline and the latest drive."""

    colour: str
    symbol: str
    dash: str
    is_strong: bool

    @property
    def width_px(self) -> float:
        """Width of its line."""
        return 3.5 if self.is_strong else 2.0


def _look_of(history: History, drive: HistoryDrive) -> _Look:
    """Black for the baseline, then blue that gets stronger drive by drive."""
    index, last = history.drives.index(drive), len(history.drives) - 1
    part = (index - 1) / (last - 1) if last > 1 else 1.0
    ends = zip(_EARLIEST_RGB, _LATEST_RGB, strict=True)
    blue = ", ".join(f"{early + part * (late - early):.0f}" for early, late in ends)
    return _Look(
        colour=f"rgb({blue})" if index else INK,
        symbol=_SYMBOLS[index % len(_SYMBOLS)],
        dash="solid" if index in (0, last) else _DASHES[index % len(_DASHES)],
        is_strong=index in (0, last),
    )


def _short(name: str) -> str:
    """Cut a name that is too long to stand in a picture."""
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"


def history_chart(history: History) -> Chart | None:
    """Make both panels; None where the baseline has no drone to follow."""
    band = history.worst_band
    if band is None:
        return None
    lines = history_lines(history)
    drawn = (drive for drive in history.drives if drive.name in lines)
    unit = escape(words.level_read(history.baseline.level_unit))
    axis = escape(words.level_axis(history.baseline.level_unit))
    figure = new_figure("Engine speed (rpm)", f"Level ({axis})")
    shade_band(figure, band)
    for drive in drawn:
        look = _look_of(history, drive)
        rpm, level_db = lines[drive.name]
        line = {"color": look.colour, "width": look.width_px, "dash": look.dash}
        marker = {"symbol": look.symbol, "size": 8, "maxdisplayed": 12}
        name = escape(_short(drive.name))
        add_curve(figure, rpm, level_db, name, line, marker=marker, unit=unit)
    _hold_axes(figure, [*lines.values()], band)
    _part(figure, _ROW_PX * len(history.drives))
    _draw_changes(figure, history)
    order = words.order_name(band.engine_order, history.baseline.engine)
    first = history.drives[0].name
    return Chart(
        name="history",
        title=f"Level of {order}, drive by drive",
        summary=f"Black is '{first}', blue are the drives after it, the latest the strongest. The "
        f"drone of '{first}' is shaded. The lower panel shows how much its level changed, with the "
        "95 % interval; left of the green line, 10 dB down, it is about half as loud.",
        figure=figure,
    )


def history_lines(history: History) -> dict[str, _Line]:
    """Give each drive's line by its name: the baseline's, then that plus each later one's change.

    Load and gear differ from drive to drive, and that alone moves an order by some decibels. A
    comparison keeps them alike; so each is shown as if it had been driven as the baseline was.
    """
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


def _hold_axes(figure: go.Figure, lines: Sequence[_Line], band: DroneBand) -> None:
    """Let no faint point far from the drone stretch the level axis."""
    if not lines:
        return
    hold_axis(figure, *(level_db for _, level_db in lines))
    low, high = _NEAR[0] * band.peak_rpm, _NEAR[1] * band.peak_rpm
    near_db = np.concatenate([y[(x > low) & (x < high) & np.isfinite(y)] for x, y in lines])
    if near_db.size and figure.layout.yaxis.range:
        lowest, highest = figure.layout.yaxis.range
        figure.update_yaxes(range=[min(lowest, near_db.min() - _AXIS_ROOM_DB), highest])
    all_rpm = np.concatenate([x for x, _ in lines])
    figure.update_xaxes(range=[float(all_rpm.min()), float(all_rpm.max())])


def _part(figure: go.Figure, lower_px: int) -> None:
    """Give the lower panel its height, and the figure the sum of all."""
    inside_px = _LEVELS_PX + _GAP_PX + lower_px
    margin = figure.layout.margin
    add_lower_panel(figure, share=lower_px / inside_px, gap=_GAP_PX / inside_px)
    figure.update_layout(height=int(inside_px + margin.t + margin.b))


def _draw_changes(figure: go.Figure, history: History) -> None:
    """Draw into axes x2 and y2: a row for each drive, the first on top, left is quieter."""
    for number in range(len(history.baseline.bands) - 1, -1, -1):
        _path(figure, history, number)
    band, best = history.baseline.bands[0], best_drive(history)
    for row, drive in enumerate(history.drives):
        change = None if drive.comparison is None else drive.comparison.changes[0]
        if row == 0:
            text = f"{words.decibel(band.rise_db)} above what is beside it"
        elif change is None:
            text = "not compared"
        elif not math.isfinite(change.level_change_db):
            text = change.verdict.value
        else:
            text = f"{words.change(change.level_change_db)}, {change.verdict.value}"
        if is_doubtful(drive):
            text += "; gain?"
        if drive is best:
            text += "; best"
        look = _look_of(history, drive)
        if row == 0 or (change is not None and math.isfinite(change.level_change_db)):
            _point(figure, row, escape(drive.name), look, change)
        _write(figure, row, f"<b>{escape(_short(drive.name))}</b>: {text}")
    for level_db, colour in ((0.0, GREY), (CURED_DB, GREEN)):
        figure.add_shape(
            type="line",
            xref="x2",
            yref="y2 domain",
            x0=level_db,
            x1=level_db,
            y0=0,
            y1=1,
            line={"color": colour, "dash": "dash", "width": 1.5},
            layer="below",
        )
    figure.update_layout(
        xaxis2={
            "title": {"text": f"Change of the drone at {words.rpm(band.peak_rpm)} (dB)"},
            "range": _range_db(history),
        },
        yaxis2={
            "range": [len(history.drives) - 0.6, -0.7],
            "showticklabels": False,
            "ticks": "",
            "showgrid": False,
        },
    )


def _path(figure: go.Figure, history: History, number: int) -> None:
    """Join the changes of one drone; those of a weaker one are marked and named too."""
    changes = [
        (row, drive.comparison.changes[number].level_change_db)
        for row, drive in enumerate(history.drives)
        if drive.comparison is not None
    ]
    known = [(0, 0.0), *((row, change) for row, change in changes if math.isfinite(change))]
    name = f"lower panel: drone at {words.rpm(history.baseline.bands[number].peak_rpm)}"
    line = {"color": GREY, "width": 1.2, "dash": "dot" if number else "solid"}
    marker = {"symbol": "circle-open", "size": 6} if number else None
    rows, values = np.array(known).T
    _add_change(figure, values, rows, name, line, marker=marker)
    figure.data[-1].showlegend = number > 0


def _point(figure: go.Figure, row: int, name: str, look: _Look, change: BandChange | None) -> None:
    value = np.array([0.0 if change is None else change.level_change_db])
    marker = {"size": 12, "color": look.colour, "symbol": look.symbol}
    _add_change(figure, value, np.array([float(row)]), name, marker=marker)
    ends = {} if change is None else arms([change], look.colour, width_px=8)
    figure.data[-1].update(error_x=ends, showlegend=False)


def _write(figure: go.Figure, row: int, text: str) -> None:
    figure.add_annotation(
        xref="x2 domain",
        yref="y2",
        x=0,
        y=row - _TEXT_UP,
        text=text,
        showarrow=False,
        xanchor="left",
        xshift=4,
        align="left",
        bgcolor="rgba(255, 255, 255, 0.8)",
        font={"color": INK, "size": 13},
    )


def _range_db(history: History) -> list[float]:
    low, high = _LEAST_RANGE_DB
    for drive in history.drives:
        for change in drive.comparison.changes if drive.comparison is not None else ():
            value, ends = change.level_change_db, change.ci95_db
            if math.isfinite(value):
                low = min(low, max(ends.low, value - _LONGEST_ARM_DB) - _ROOM_DB)
                high = max(high, min(ends.high, value + _LONGEST_ARM_DB) + _ROOM_DB)
    return [low, high]
