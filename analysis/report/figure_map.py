"""Colour map of level over engine speed and frequency, with the order lines and the bands."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.drive import Engine, FloatArray
from analysis.findings import DroneBand, Findings, LevelMap
from analysis.report import words
from analysis.report.blocks import Chart
from analysis.report.figure_style import INK, compact, new_figure

_MOST_ROWS, _MOST_COLUMNS = 240, 320
_LEAST_TOP_HZ = 200.0
_HEIGHT_PX = 500
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")


def map_chart(findings: Findings) -> Chart | None:
    """Make the map; None for a drive without sound."""
    if findings.level_map is None:
        return None
    shown = _thinned(findings.level_map, _top_hz(findings))
    figure = new_figure("Engine speed (rpm)", "Frequency (Hz)", height_px=_HEIGHT_PX)
    unit = escape(findings.level_unit)
    figure.add_trace(
        go.Heatmap(
            x=compact(shown.rpm, 1),
            y=compact(shown.frequency_hz, 2),
            z=compact(shown.level_db.T, 1),
            colorscale="Cividis",
            colorbar={"title": {"text": unit, "side": "right"}, "thickness": 14, "outlinewidth": 0},
            zmin=float(np.nanpercentile(shown.level_db, 5)),
            zmax=float(np.nanmax(shown.level_db)),
            hovertemplate=f"%{{x:,.0f}} rpm<br>%{{y:.1f}} Hz<br>%{{z:.1f}} {unit}<extra></extra>",
        )
    )
    orders = _orders(findings)
    top_hz = float(shown.frequency_hz.max())
    for index, order in enumerate(orders):
        _order_line(figure, order, index, shown.rpm, top_hz, findings.engine)
    for band in findings.bands:
        _mark_band(figure, band)
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
    names = words.listed([words.order_name(o, findings.engine) for o in orders])
    text = (
        f"Bright is loud. Each line is one note of the engine, rising with engine speed: {names}. "
        f"The map runs from {words.rpm(shown.rpm.min())} to {words.rpm(shown.rpm.max())} and up to "
        f"{words.hertz(shown.frequency_hz.max())}. "
    )
    if not np.isfinite(shown.level_db).all():
        text += "White upright stripes are engine speeds that the drive did not hold. "
    if not findings.bands:
        return text + "No drone is marked, because none was found."
    marks = [
        f"{words.rpm(b.low_rpm)} to {words.rpm(b.high_rpm)} on order "
        f"{words.bare_order(b.engine_order)}"
        for b in findings.bands
    ]
    return text + f"The thick stretch between the diamonds is the drone: {words.listed(marks)}."


def _top_hz(findings: Findings) -> float:
    highest = max((b.high_hz for b in findings.bands), default=0.0)
    firing = findings.engine.firing_order * findings.driven_rpm[1] / 60.0 if findings.engine else 0
    return max(_LEAST_TOP_HZ, 1.3 * highest, 1.3 * firing)


def _orders(findings: Findings) -> tuple[float, ...]:
    """Choose few lines: the bands' orders, and half, once and twice the firing order."""
    chosen = {band.engine_order for band in findings.bands}
    if findings.engine is not None:
        chosen |= {findings.engine.firing_order * factor for factor in (0.5, 1.0, 2.0)}
    return tuple(sorted(chosen))


def _thinned(full: LevelMap, top_hz: float) -> LevelMap:
    """Cut at ``top_hz`` and average neighbours (as power) until the map is small enough."""
    keep = full.frequency_hz <= top_hz
    if keep.sum() < 2:
        keep = np.ones_like(keep)
    rpm, hz, level = full.rpm, full.frequency_hz[keep], full.level_db[:, keep]
    rows = -(-rpm.size // _MOST_ROWS)
    columns = -(-hz.size // _MOST_COLUMNS)
    power = _block_mean(_block_mean(10.0 ** (level / 10.0), rows).T, columns).T
    with np.errstate(divide="ignore"):
        level = 10.0 * np.log10(power)
    level[~np.isfinite(level)] = np.nan
    return LevelMap(
        rpm=_block_mean(rpm, rows), frequency_hz=_block_mean(hz, columns), level_db=level
    )


def _block_mean(values: FloatArray, size: int) -> FloatArray:
    """Mean over blocks of ``size`` along the first axis, NaN left out."""
    if size == 1:
        return values.copy()
    starts = np.arange(0, values.shape[0], size)
    known = np.isfinite(values)
    total = np.add.reduceat(np.where(known, values, 0.0), starts, axis=0)
    count = np.add.reduceat(known.astype(float), starts, axis=0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)


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
    for colour, width in (("rgba(0,0,0,0.55)", 4.0), ("#ffffff", 1.5)):
        figure.add_trace(
            go.Scatter(
                x=compact(ends_rpm, 1),
                y=compact(hz, 2),
                mode="lines",
                line={"color": colour, "width": width, "dash": _DASHES[index % len(_DASHES)]},
                hovertemplate=f"{name}<br>%{{x:,.0f}} rpm<br>%{{y:.1f}} Hz<extra></extra>",
            )
        )
    figure.add_annotation(
        x=float(ends_rpm[-1]),
        y=float(hz[-1]),
        text=name,
        xanchor="right",
        yanchor="bottom" if hz[-1] > 0.97 * top_hz else "middle",
        showarrow=False,
        xshift=-4,
        yshift=2 if hz[-1] > 0.97 * top_hz else -12,
        font={"size": 12, "color": INK},
        bgcolor="rgba(255,255,255,0.85)",
    )


def _mark_band(figure: go.Figure, band: DroneBand) -> None:
    rpm = np.array([band.low_rpm, band.peak_rpm, band.high_rpm])
    for colour, width, size in ((INK, 9.0, 15), ("#ffffff", 5.0, 10)):
        figure.add_trace(
            go.Scatter(
                x=compact(rpm, 1),
                y=compact(band.engine_order * rpm / 60.0, 2),
                mode="lines+markers",
                line={"color": colour, "width": width},
                marker={"symbol": ["diamond", "circle", "diamond"], "size": size, "color": colour},
                hovertemplate="drone<br>%{x:,.0f} rpm<br>%{y:.1f} Hz<extra></extra>",
            )
        )
