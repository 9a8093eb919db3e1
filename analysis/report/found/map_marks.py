"""What both colour maps share: the heat, lines that stand out on it, and the drone bands."""
# SPDX-License-Identifier: GPL-2.0-or-later

from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.findings import DroneBand
from analysis.report.figure_style import INK, compact

_HALO = "rgba(0,0,0,0.55)"
_PAPER = "rgba(255,255,255,0.85)"


def heat(
    rpm: FloatArray, up: FloatArray, level_db: FloatArray, unit: str, up_readout: str
) -> go.Heatmap:
    """Levels [shape=(n_rpm, n_up)] as colours; ``up_readout`` is the pointer's text for %{y}."""
    shown_unit = escape(unit)
    return go.Heatmap(
        x=compact(rpm, 1),
        y=compact(up, 3),
        z=compact(level_db.T, 1),
        colorscale="Cividis",
        colorbar={
            "title": {"text": shown_unit, "side": "right"},
            "thickness": 14,
            "outlinewidth": 0,
        },
        zmin=float(np.nanpercentile(level_db, 5)),
        zmax=float(np.nanmax(level_db)),
        hovertemplate=(
            f"%{{x:,.0f}} rpm<br>{up_readout}<br>%{{z:.1f}} {shown_unit}<extra></extra>"
        ),
    )


def line(
    figure: go.Figure, rpm: FloatArray, up: FloatArray, *, name: str, dash: str, up_readout: str
) -> None:
    """Draw a white line with a dark edge, told from others by its dashes."""
    for colour, width in ((_HALO, 4.0), ("#ffffff", 1.5)):
        figure.add_trace(
            go.Scatter(
                x=compact(rpm, 1),
                y=compact(up, 3),
                mode="lines",
                line={"color": colour, "width": width, "dash": dash},
                hovertemplate=f"{name}<br>%{{x:,.0f}} rpm<br>{up_readout}<extra></extra>",
            )
        )


def label(
    figure: go.Figure, x: float, y: float, text: str, *, xanchor: str, yanchor: str, yshift: int
) -> None:
    """Set text on a light ground, so that it reads on every colour."""
    figure.add_annotation(
        x=x,
        y=y,
        text=text,
        xanchor=xanchor,
        yanchor=yanchor,
        showarrow=False,
        xshift=-4 if xanchor == "right" else 4,
        yshift=yshift,
        font={"size": 12, "color": INK},
        bgcolor=_PAPER,
    )


def mark_band(figure: go.Figure, band: DroneBand, up: FloatArray, up_readout: str) -> None:
    """Draw a thick stretch from low to high; ``up`` [shape=(3,)] at low, peak and high rpm."""
    rpm = np.array([band.low_rpm, band.peak_rpm, band.high_rpm])
    for colour, width, size in ((INK, 9.0, 15), ("#ffffff", 5.0, 10)):
        figure.add_trace(
            go.Scatter(
                x=compact(rpm, 1),
                y=compact(up, 2),
                mode="lines+markers",
                line={"color": colour, "width": width},
                marker={"symbol": ["diamond", "circle", "diamond"], "size": size, "color": colour},
                hovertemplate=f"drone<br>%{{x:,.0f}} rpm<br>{up_readout}<extra></extra>",
            )
        )
