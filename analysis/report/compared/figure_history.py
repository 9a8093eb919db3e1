"""A history in one picture: the order's level over engine speed, and the drone drive by drive."""
# SPDX-License-Identifier: GPL-2.0-or-later

from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.compare.history import History, HistoryDrive
from analysis.findings import DroneBand
from analysis.report.blocks import Chart
from analysis.report.compared.history_looks import look_of, short
from analysis.report.compared.panel_changes import draw_changes, panel_px
from analysis.report.figure_style import add_curve, add_lower_panel, new_figure, shade_band
from analysis.report.found.figure_levels import hold_axis, mean_curve
from analysis.verdicts import Comparison
from analysis.words import quantities as words

# judgement: layout, moves no answer.
_LEVELS_PX, _GAP_PX = 340, 84
_NEAR = (0.8, 1.25)  # of the drone's rpm: where no line may leave the picture
_AXIS_ROOM_DB = 2.0
# rpm, and level in the baseline's unit; [shape=(n_bins,)]
_Line = tuple[FloatArray, FloatArray]


def history_chart(history: History) -> Chart | None:
    """Make both panels; None where the baseline has no drone to follow."""
    band = history.worst_band
    if band is None:
        return None
    lines = history_lines(history)
    drawn = [drive for drive in history.drives if drive.name in lines]
    unit = escape(history.baseline.level_unit)
    figure = new_figure("Engine speed (rpm)", f"Level ({unit})")
    shade_band(figure, band)
    for drive in drawn:
        look = look_of(history, drive)
        rpm, level_db = lines[drive.name]
        line = {"color": look.colour, "width": look.width_px, "dash": look.dash}
        marker = {"symbol": look.symbol, "size": 8, "maxdisplayed": 12}
        name, readout = escape(short(drive.name)), f"%{{x:,.0f}} rpm<br>%{{y:.1f}} {unit}"
        add_curve(figure, rpm, level_db, name, line, marker=marker, readout=readout)
    _hold_axes(figure, band)
    _name_first_and_latest(figure, history, drawn, band)
    _part(figure, panel_px(history))
    draw_changes(figure, history)
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


def _hold_axes(figure: go.Figure, band: DroneBand) -> None:
    """Let no faint point far from the drone stretch the level axis."""
    lines = [(_numbers(trace.x), _numbers(trace.y)) for trace in figure.data]
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


def _name_first_and_latest(
    figure: go.Figure, history: History, drawn: list[HistoryDrive], band: DroneBand
) -> None:
    """Write their names beside the two lines that matter most, at the drone."""
    for drive, trace in zip(drawn, figure.data, strict=True):
        look = look_of(history, drive)
        rpm, level_db = _numbers(trace.x), _numbers(trace.y)
        inside = np.flatnonzero(
            (rpm >= band.low_rpm) & (rpm <= band.high_rpm) & np.isfinite(level_db)
        )
        if not look.is_strong or not inside.size:
            continue
        is_first = drive is history.drives[0]
        at = inside[-1] if is_first else inside[int(level_db[inside].argmin())]
        figure.add_annotation(
            x=float(rpm[at]),
            y=float(level_db[at]),
            text=f"<b>{escape(short(drive.name))}</b>",
            showarrow=False,
            font={"size": 13, "color": look.colour},
            xanchor="left" if is_first else "center",
            yanchor="bottom" if is_first else "top",
            xshift=8 if is_first else 0,
        )


def _numbers(values: object) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _part(figure: go.Figure, lower_px: int) -> None:
    """Give the lower panel its height, and the figure the sum of all."""
    inside_px = _LEVELS_PX + _GAP_PX + lower_px
    margin = figure.layout.margin
    add_lower_panel(figure, share=lower_px / inside_px, gap=_GAP_PX / inside_px)
    figure.update_layout(height=int(inside_px + margin.t + margin.b))
