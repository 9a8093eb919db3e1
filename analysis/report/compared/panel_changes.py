"""The lower panel of a history: how much each drive changed the drones of the baseline."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from html import escape

import plotly.graph_objects as go

from analysis.basics.cure import CURED_DB
from analysis.compare.best_drive import best_drive, is_doubtful
from analysis.compare.history import History
from analysis.report.compared.history_looks import Look, look_of, short
from analysis.report.figure_style import GREEN, GREY, INK, arms
from analysis.verdicts import BandChange
from analysis.words import quantities as words

# judgement: layout, moves no answer.
_ROW_PX = 52
_TEXT_UP = 0.42  # rows: how far a drive's name stands above its point
_LEAST_RANGE_DB = (-17.0, 3.0)
_ROOM_DB = 2.0
_LONGEST_ARM_DB = 8.0  # an interval without an end runs out of the panel


def panel_px(history: History) -> int:
    """Height that the panel needs."""
    return _ROW_PX * len(history.drives)


def draw_changes(figure: go.Figure, history: History) -> None:
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
        look = look_of(history, drive)
        if row == 0 or (change is not None and math.isfinite(change.level_change_db)):
            _point(figure, row, escape(drive.name), look, change)
        _write(figure, row, f"<b>{escape(short(drive.name))}</b>: {text}")
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
    name = f"drone at {words.rpm(history.baseline.bands[number].peak_rpm)}"
    figure.add_trace(
        go.Scatter(
            x=[round(change, 2) for _, change in known],
            y=[row for row, _ in known],
            xaxis="x2",
            yaxis="y2",
            name=name,
            mode="lines+markers" if number else "lines",
            line={"color": GREY, "width": 1.2, "dash": "dot" if number else "solid"},
            marker={"symbol": "circle-open", "size": 6},
            showlegend=number > 0,
            hovertemplate=f"{name}<br>%{{x:+.1f}} dB<extra></extra>",
        )
    )


def _point(figure: go.Figure, row: int, name: str, look: Look, change: BandChange | None) -> None:
    value = 0.0 if change is None else change.level_change_db
    figure.add_trace(
        go.Scatter(
            x=[round(value, 2)],
            y=[row],
            xaxis="x2",
            yaxis="y2",
            name=name,
            mode="markers",
            marker={"size": 12, "color": look.colour, "symbol": look.symbol},
            error_x={} if change is None else arms([change], look.colour, width_px=8),
            showlegend=False,
            hovertemplate=f"{name}<br>%{{x:+.1f}} dB<extra></extra>",
        )
    )


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
