"""Colour map of level over engine speed and frequency, with the order lines and the bands."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.findings import Findings, LevelMap
from analysis.report.blocks import Chart
from analysis.report.figure_style import new_figure
from analysis.report.found.map_marks import heat, label, line, mark_band
from analysis.report.found.thinning import thinned
from analysis.words import quantities as words
from analysis.words.sentences import listed

# judgement: layout, moves no answer.
_LEAST_TOP_HZ = 200.0
_HEIGHT_PX = 500
_READOUT = "%{y:.1f} Hz"
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")


def map_chart(findings: Findings) -> Chart | None:
    """Make the map; None for a drive without sound."""
    if findings.level_map is None:
        return None
    full = findings.level_map
    rpm, frequency_hz, level_db = thinned(
        full.rpm, full.frequency_hz, full.level_db, _top_hz(findings)
    )
    shown = LevelMap(rpm=rpm, frequency_hz=frequency_hz, level_db=level_db)
    figure = new_figure("Engine speed (rpm)", "Frequency (Hz)", height_px=_HEIGHT_PX)
    figure.add_trace(heat(rpm, frequency_hz, level_db, findings.level_unit, _READOUT))
    orders = _orders(findings)
    top_hz = float(shown.frequency_hz.max())
    for index, order in enumerate(orders):
        _order_line(figure, order, index, shown.rpm, top_hz, findings.engine)
    for band in findings.bands:
        low, peak, high = band.low_hz, band.peak_hz, band.high_hz
        mark_band(figure, band, np.array([low, peak, high]), _READOUT)
    figure.update_yaxes(range=[float(shown.frequency_hz.min()), top_hz], showgrid=False)
    figure.update_xaxes(range=[float(shown.rpm.min()), float(shown.rpm.max())], showgrid=False)
    figure.update_layout(showlegend=False, margin={"t": 44})
    return Chart(
        name="map",
        title="Level over engine speed and frequency",
        summary=_summary(findings, shown, orders),
        figure=figure,
        height_px=_HEIGHT_PX,
    )


def _summary(findings: Findings, shown: LevelMap, orders: tuple[float, ...]) -> str:
    names = listed([words.order_name(o, findings.engine) for o in orders])
    text = (
        f"Bright is loud. Each line is one order of the engine, rising with engine speed: {names}. "
        f"The map runs from {words.rpm(shown.rpm.min())} to {words.rpm(shown.rpm.max())} and up to "
        f"{words.hertz(shown.frequency_hz.max())}. "
    )
    if not np.isfinite(shown.level_db).all():
        text += "White upright stripes are engine speeds that were not driven. "
    if not findings.bands:
        return text + "No drone is marked."
    marks = [
        f"{words.rpm(b.low_rpm)} to {words.rpm(b.high_rpm)} on order {b.engine_order:g}"
        for b in findings.bands
    ]
    return text + f"The thick stretch between the diamonds is the drone: {listed(marks)}."


def _top_hz(findings: Findings) -> float:
    highest = max((b.high_hz for b in findings.bands), default=0.0)
    firing = findings.engine.firing_order * findings.driven_rpm[1] / 60.0 if findings.engine else 0
    return max(_LEAST_TOP_HZ, 1.3 * highest, 1.3 * firing)


def _orders(findings: Findings) -> tuple[float, ...]:
    """Choose few lines: the bands' orders, and the firing order with its half and double."""
    chosen = {band.engine_order for band in findings.bands}
    if findings.engine is not None:
        few = {findings.engine.firing_order * factor for factor in (0.5, 1.0, 2.0)}
        chosen |= set(filter(findings.engine.can_have, few))
    return tuple(sorted(chosen))


def _order_line(
    figure: go.Figure,
    order: float,
    index: int,
    rpm: FloatArray,
    top_hz: float,
    engine: Engine | None,
) -> None:
    end_rpm = min(float(rpm.max()), 60.0 * top_hz / order)
    ends_rpm = np.linspace(float(rpm.min()), end_rpm, 40)
    if end_rpm <= ends_rpm[0]:
        return
    name = words.order_name(order, engine)
    hz = order * ends_rpm / 60.0
    line(figure, ends_rpm, hz, name=name, dash=_DASHES[index % len(_DASHES)], up_readout=_READOUT)
    is_at_top = bool(hz[-1] > 0.97 * top_hz)
    label(
        figure,
        float(ends_rpm[-1]),
        float(hz[-1]),
        name,
        xanchor="right",
        yanchor="bottom" if is_at_top else "middle",
        yshift=2 if is_at_top else -12,
    )
