"""The look that every figure shares: ink on paper, each line told apart by dash and marker too.

Sizes are judgement: layout, which moves no answer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from analysis.basics.arrays import FloatArray
from analysis.findings import DroneBand
from analysis.verdicts import BandChange

# Hues from the palette of M. Okabe and K. Ito for colour-blind readers (from memory).
INK = "#23282b"
RULE = "#d9d6cd"
BLUE = "#0072b2"
RUST = "#b34700"
GREEN = "#007a5a"
GREY = "#6b7073"
BAND = "rgba(230, 159, 0, 0.20)"
BAND_EDGE = "rgba(179, 71, 0, 0.30)"

_STANDOFF_PX = 8
_AXIS = {
    "showline": True,
    "linecolor": INK,
    "linewidth": 1,
    "ticks": "outside",
    "tickcolor": INK,
    "ticklen": 4,
    "gridcolor": RULE,
    "zeroline": False,
    "separatethousands": True,
    "title": {"standoff": _STANDOFF_PX},
}
_FONT = "Charter, 'Bitstream Charter', Cambria, Georgia, serif"


def new_figure(x_title: str, y_title: str, *, height_px: int = 420) -> go.Figure:
    """Make an empty figure of fixed height; the page sets its width."""
    return go.Figure(  # at once: each update of a figure takes ten times as long
        layout={
            "template": "none",
            "height": height_px,
            "margin": {"l": 62, "r": 16, "t": 34, "b": 52},
            "paper_bgcolor": "rgba(0,0,0,0)",
            "plot_bgcolor": "#ffffff",
            "font": {"family": _FONT, "size": 14, "color": INK},
            "hoverlabel": {"bgcolor": INK, "font": {"family": _FONT, "color": "#ffffff"}},
            "legend": {
                "orientation": "h",
                "x": 0,
                "y": 1.0,
                "yanchor": "bottom",
                "font": {"size": 13},
            },
            "dragmode": "zoom",
            "hovermode": "closest",
            "xaxis": {**_AXIS, "title": {"text": x_title, "standoff": _STANDOFF_PX}},
            "yaxis": {**_AXIS, "title": {"text": y_title, "standoff": _STANDOFF_PX}},
        }
    )


def add_lower_panel(figure: go.Figure, *, share: float, gap: float) -> None:
    """Part the figure: ``share`` of the height goes to axes x2 and y2 below, ``gap`` lies between.

    What is drawn so far stays above.
    """
    figure.update_layout(
        yaxis={"domain": [share + gap, 1.0]},
        xaxis={"anchor": "y"},
        xaxis2={**_AXIS, "anchor": "y2"},
        yaxis2={**_AXIS, "anchor": "x2", "domain": [0.0, share]},
    )


def compact(values: FloatArray, decimals: int = 2) -> NDArray[np.float32]:
    """Round and halve the size: nobody reads more from a screen."""
    return np.round(values, decimals).astype(np.float32)


def add_curve(
    figure: go.Figure,
    x: FloatArray,
    y: FloatArray,
    name: str,
    line: dict[str, object] | None = None,
    *,
    marker: dict[str, object] | None = None,
    unit: str = "dB",
    readout: str | None = None,
    x_decimals: int = 1,
    y_decimals: int = 2,
    panel: str = "",
) -> None:
    """Add a line, marks or both, as far as they are given; the pointer shows name and readout.

    Without a ``readout`` it is engine speed and a level in ``unit``, which is escaped.
    ``panel`` is "2" for that of `add_lower_panel`.
    """
    readout = readout or f"%{{x:,.0f}} rpm<br>%{{y:.1f}} {unit}"
    drawn = [what for what, how in (("lines", line), ("markers", marker)) if how is not None]
    figure.add_trace(
        go.Scatter(
            x=compact(x, x_decimals),
            y=compact(y, y_decimals),
            name=name,
            mode="+".join(drawn),
            xaxis=f"x{panel}",
            yaxis=f"y{panel}",
            line=line,
            marker=marker,
            hovertemplate=f"{name}<br>{readout}<extra></extra>",
        )
    )


def arms(changes: Sequence[BandChange], colour: str, width_px: int) -> dict[str, object]:
    """Give changes the arms of their 95 % intervals, as plotly's ``error_x``."""
    return {
        "type": "data",
        "symmetric": False,
        "array": [round(c.ci95_db.high - c.level_change_db, 2) for c in changes],
        "arrayminus": [round(c.level_change_db - c.ci95_db.low, 2) for c in changes],
        "color": colour,
        "thickness": 2,
        "width": width_px,
    }


def shade_band(figure: go.Figure, band: DroneBand) -> None:
    """Shade low..high, with the 95 % interval of each edge and of the peak as darker stripes."""
    to_rpm = 60.0 / band.engine_order
    stripes = [
        (band.low_hz, band.high_hz, BAND),
        (band.low_hz_ci95.low, band.low_hz_ci95.high, BAND_EDGE),
        (band.high_hz_ci95.low, band.high_hz_ci95.high, BAND_EDGE),
    ]
    whole_height = {"xref": "x", "yref": "y domain", "y0": 0, "y1": 1}
    peak = band.peak_hz * to_rpm
    # at once, as in new_figure: each shape added by itself takes ten times as long
    figure.layout.shapes += (
        *(
            {
                **whole_height,
                "type": "rect",
                "x0": low_hz * to_rpm,
                "x1": high_hz * to_rpm,
                "fillcolor": colour,
                "line": {"width": 0},
                "layer": "below",
            }
            for low_hz, high_hz, colour in stripes
        ),
        {
            **whole_height,
            "type": "line",
            "x0": peak,
            "x1": peak,
            "line": {"color": RUST, "width": 1.5, "dash": "dash"},
        },
    )
