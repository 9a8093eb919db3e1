"""Engine speed over time."""
# SPDX-License-Identifier: GPL-2.0-or-later

from functools import partial

import numpy as np

from analysis.findings import Findings
from analysis.report.blocks import Chart
from analysis.report.figure_style import BLUE, GREEN, GREY, INK, RUST, add_curve, new_figure
from analysis.words import quantities as words
from analysis.words.marks import marks
from analysis.words.quantities import gear_name

# judgement: layout, and a page of a few megabytes; moves no answer.
_HEIGHT_PX = 320
_MOST_POINTS = 3000
_MARK_LINE: dict[str, object] = {
    "type": "line",
    "xref": "x",
    "y0": 0,
    "y1": 1,
    "yref": "y domain",
    "line": {"color": RUST, "width": 1.5, "dash": "dot"},
}
_MARK_WORD: dict[str, object] = {
    "text": "mark",
    "showarrow": False,
    "xref": "x",
    "xanchor": "center",
    "y": 1,
    "yref": "y domain",
    "yanchor": "bottom",
}
_GEARS = ((BLUE, "circle"), (RUST, "square"), (GREEN, "diamond"), (INK, "x"), (GREY, "cross"))


def speed_chart(findings: Findings) -> Chart | None:
    """Engine speed over time, each known gear with its own mark; None without any."""
    speed = findings.engine_speed
    if speed.time_s.size == 0:
        return None
    thin = slice(None, None, -(-speed.time_s.size // _MOST_POINTS))
    figure = new_figure("Time (s)", "Engine speed (rpm)", height_px=_HEIGHT_PX)
    readout = "%{x:.1f} s<br>%{y:,.0f} rpm"
    draw = partial(add_curve, figure, readout=readout, x_decimals=2, y_decimals=1)
    draw(speed.time_s[thin], speed.rpm[thin], "engine speed", {"color": INK, "width": 1.5})
    known = speed.gear_index[speed.gear_index >= 0.0]
    gears = [int(gear) for gear in np.unique(known)]
    for gear in gears:
        colour, symbol = _GEARS[gear % len(_GEARS)]
        mine = np.flatnonzero(speed.gear_index == gear)[:: max(1, speed.time_s.size // 60)]
        marker = {"color": colour, "symbol": symbol, "size": 7}
        draw(speed.time_s[mine], speed.rpm[mine], gear_name(gear), marker=marker)
    at_s = [mark.at_s for mark in marks(findings)]
    # all at once: added one by one, a thousand take minutes
    figure.update_layout(
        shapes=[{**_MARK_LINE, "x0": each, "x1": each} for each in at_s],
        annotations=[{**_MARK_WORD, "x": each} for each in at_s],
        showlegend=bool(gears),
    )
    return Chart(
        name="speed",
        title="Engine speed over the drive",
        summary=_summary(findings, len(gears)),
        figure=figure,
    )


def _summary(findings: Findings, gears: int) -> str:
    low, high = findings.driven_rpm
    text = (
        f"{words.duration(findings.duration_s)} of driving between {words.rpm(low)} and "
        f"{words.rpm(high)}"
    )
    if findings.marks_s:
        text += ", with the marked moments as dotted lines"
    if gears == 0:
        return f"{text}; the gear is not known, because no road speed was logged."
    return f"{text}, in {gears} {'gear' if gears == 1 else 'gears'} (A is the lowest seen)."
