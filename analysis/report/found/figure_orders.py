"""Colour map of level over engine speed and engine order, with each cause as a line."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.findings import Cause, Findings
from analysis.report.blocks import Chart
from analysis.report.figure_style import new_figure
from analysis.report.found.map_marks import heat, label, line, mark_band
from analysis.report.found.thinning import thinned
from analysis.words import quantities as words
from analysis.words.sentences import listed

# judgement: layout, moves no answer.
_HEIGHT_PX = 460
_READOUT = "order %{y:.2f}"
# judgement: layout, moves no answer.
_LEAST_TOP_ORDER = 6.0
_MOST_CAUSES = 4
_DASHES = ("dash", "dot", "dashdot", "longdash")


def order_map_chart(findings: Findings) -> Chart | None:
    """Make the map; None for a drive without sound or without a drone."""
    picture = findings.order_map
    if picture is None or picture.rpm.size < 2 or not findings.bands:
        return None
    rpm, order, level_db = thinned(
        picture.rpm, picture.engine_order, picture.level_db, _top_order(findings)
    )
    figure = new_figure("Engine speed (rpm)", "Engine order", height_px=_HEIGHT_PX)
    figure.add_trace(heat(rpm, order, level_db, findings.level_unit, _READOUT))
    shown = findings.causes[:_MOST_CAUSES]
    for index, cause in enumerate(shown):
        _resonance_line(figure, cause, _DASHES[index], rpm, float(order.max()))
    for band in findings.bands:
        mark_band(figure, band, np.full(3, band.engine_order), _READOUT)
    figure.update_yaxes(range=[0.0, float(order.max())], showgrid=False)
    figure.update_xaxes(range=[float(rpm.min()), float(rpm.max())], showgrid=False)
    figure.update_layout(showlegend=False)
    return Chart(
        name="orders",
        title="Level over engine speed and engine order",
        summary=_summary(shown),
        figure=figure,
        height_px=_HEIGHT_PX,
    )


def _top_order(findings: Findings) -> float:
    highest = max(band.engine_order for band in findings.bands)
    firing = findings.engine.firing_order if findings.engine is not None else 0.0
    return max(_LEAST_TOP_ORDER, highest + 1.0, 2.0 * firing + 0.5)


def _summary(shown: tuple[Cause, ...]) -> str:
    at = listed([words.hertz(cause.frequency_hz) for cause in shown])
    return (
        "Bright is loud. What the engine makes lies level here, at its order; a resonance "
        f"falls from left to right, where each order meets it. Broken lines: {at}. Thick "
        "stretches: the drones."
    )


def _resonance_line(
    figure: go.Figure, cause: Cause, dash: str, rpm: FloatArray, top_order: float
) -> None:
    order = 60.0 * cause.frequency_hz / rpm
    inside = order <= top_order
    if not inside.any():
        return
    name = words.hertz(cause.frequency_hz)
    line(figure, rpm[inside], order[inside], name=name, dash=dash, up_readout=_READOUT)
    first = int(np.flatnonzero(inside)[0])
    label(
        figure,
        float(rpm[first]),
        float(order[first]),
        name,
        xanchor="left",
        yanchor="bottom",
        yshift=2,
    )
