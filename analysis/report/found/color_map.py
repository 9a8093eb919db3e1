"""A colour map of level over engine speed: the heat, and what is drawn to stand out on it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.findings import DroneBand
from analysis.report.blocks import Chart
from analysis.report.figure_style import INK, compact, new_figure

# judgement: points of a map; a page of a few megabytes, moves no answer
_MOST_ROWS, _MOST_COLUMNS = 240, 320
_HALO = "rgba(0,0,0,0.55)"
_PAPER = "rgba(255,255,255,0.85)"


class ColorMap:
    """The map while it is drawn; the upright axis is frequency or order, ``up`` for short.

    Attributes
    ----------
    rpm, up : ndarray [shape=(n_rpm,)], [shape=(n_up,)]
        What is shown: neighbours averaged as power, nothing above ``top``.
    level_db : ndarray [shape=(n_rpm, n_up)]
    """

    def __init__(
        self,
        rpm: FloatArray,
        up: FloatArray,
        level_db: FloatArray,
        *,
        top: float,
        unit: str,
        title: str,
        readout: str,
        height_px: int,
    ) -> None:
        self.rpm, self.up, self.level_db = _thinned(rpm, up, level_db, top)
        self._readout = f"%{{x:,.0f}} rpm<br>{readout}"
        self._figure = new_figure("Engine speed (rpm)", title, height_px=height_px)
        unit = escape(unit)
        self._figure.add_trace(
            go.Heatmap(
                x=compact(self.rpm, 1),
                y=compact(self.up, 3),
                z=compact(self.level_db.T, 1),
                colorscale="Cividis",
                colorbar={
                    "title": {"text": unit, "side": "right"},
                    "thickness": 14,
                    "outlinewidth": 0,
                },
                zmin=float(np.nanpercentile(self.level_db, 5)),
                zmax=float(np.nanmax(self.level_db)),
                hovertemplate=f"{self._readout}<br>%{{z:.1f}} {unit}<extra></extra>",
            )
        )

    def line(self, rpm: FloatArray, up: FloatArray, *, name: str, dash: str) -> None:
        """Draw a white line with a dark edge, told from others by its dashes."""
        for colour, width in ((_HALO, 4.0), ("#ffffff", 1.5)):
            self._figure.add_trace(
                go.Scatter(
                    x=compact(rpm, 1),
                    y=compact(up, 3),
                    mode="lines",
                    line={"color": colour, "width": width, "dash": dash},
                    hovertemplate=f"{name}<br>{self._readout}<extra></extra>",
                )
            )

    def label(self, rpm: float, up: float, text: str, **place: object) -> None:
        """Set text on a light ground, so that it reads on every colour; ``place`` beside it."""
        self._figure.add_annotation(
            x=float(rpm),
            y=float(up),
            text=text,
            showarrow=False,
            font={"size": 12, "color": INK},
            bgcolor=_PAPER,
            **place,
        )

    def mark(self, band: DroneBand, up: FloatArray) -> None:
        """Draw a thick stretch from low to high; ``up`` [shape=(3,)] at low, peak and high rpm."""
        rpm = np.array([band.low_rpm, band.peak_rpm, band.high_rpm])
        symbols = ["diamond", "circle", "diamond"]
        for colour, width, size in ((INK, 9.0, 15), ("#ffffff", 5.0, 10)):
            self._figure.add_trace(
                go.Scatter(
                    x=compact(rpm, 1),
                    y=compact(up, 2),
                    mode="lines+markers",
                    line={"color": colour, "width": width},
                    marker={"symbol": symbols, "size": size, "color": colour},
                    hovertemplate=f"drone<br>{self._readout}<extra></extra>",
                )
            )

    def chart(self, name: str, title: str, summary: str, *, lowest: float) -> Chart:
        """Give the map as it is, its upright axis begun at ``lowest``."""
        figure = self._figure
        figure.update_yaxes(range=[lowest, float(self.up.max())], showgrid=False)
        figure.update_xaxes(range=[float(self.rpm.min()), float(self.rpm.max())], showgrid=False)
        figure.update_layout(showlegend=False)
        return Chart(name=name, title=title, summary=summary, figure=figure)


def _thinned(
    rpm: FloatArray, up: FloatArray, level_db: FloatArray, top: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    keep = up <= top
    if keep.sum() < 2:
        keep = np.ones_like(keep)
    up, level_db = up[keep], level_db[:, keep]
    rows = -(-rpm.size // _MOST_ROWS)
    columns = -(-up.size // _MOST_COLUMNS)
    power = _block_mean(_block_mean(10.0 ** (level_db / 10.0), rows).T, columns).T
    with np.errstate(divide="ignore"):
        small_db = 10.0 * np.log10(power)
    small_db[~np.isfinite(small_db)] = np.nan
    return _block_mean(rpm, rows), _block_mean(up, columns), small_db


def _block_mean(values: FloatArray, size: int) -> FloatArray:
    """Mean over blocks of ``size`` along the first axis, NaN left out."""
    if size == 1:
        return values.copy()
    starts = np.arange(0, values.shape[0], size)
    known = np.isfinite(values)
    total = np.add.reduceat(np.where(known, values, 0.0), starts, axis=0)
    count = np.add.reduceat(known.astype(float), starts, axis=0)
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)
