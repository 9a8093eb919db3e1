"""Level over engine speed as colour: against frequency, and against engine order."""
# SPDX-License-Identifier: GPL-2.0-or-later

from functools import partial
from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.drive import Engine
from analysis.findings import DroneBand, Findings
from analysis.report.blocks import Chart
from analysis.report.figure_style import INK, add_curve, compact, new_figure
from analysis.words import quantities as words
from analysis.words.sentences import listed

# judgement: layout, moves no answer.
_HERTZ_PX, _ORDERS_PX = 500, 460
_LEAST_TOP_HZ, _LEAST_TOP_ORDER = 200.0, 6.0
_MOST_CAUSES = 4
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")
# judgement: points of a map; a page of a few megabytes, moves no answer
_MOST_ROWS, _MOST_COLUMNS = 240, 320
_HALO = "rgba(0,0,0,0.55)"
_PAPER = "rgba(255,255,255,0.85)"


class _ColorMap:
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
        readout = f"%{{x:,.0f}} rpm<br>{readout}"
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
                # the faintest share one colour, and the rest has more of them
                zmin=float(np.nanpercentile(self.level_db, 5)),
                zmax=float(np.nanmax(self.level_db)),
                hovertemplate=f"{readout}<br>%{{z:.1f}} {unit}<extra></extra>",
            )
        )
        self._draw = partial(add_curve, self._figure, readout=readout, y_decimals=3)

    def line(self, rpm: FloatArray, up: FloatArray, *, name: str, dash: str) -> None:
        """Draw a white line with a dark edge, told from others by its dashes."""
        for colour, width in ((_HALO, 4.0), ("#ffffff", 1.5)):
            self._draw(rpm, up, name, {"color": colour, "width": width, "dash": dash})

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
            marker = {"symbol": symbols, "size": size, "color": colour}
            self._draw(rpm, up, "drone", {"color": colour, "width": width}, marker=marker)

    def chart(self, name: str, title: str, summary: str, *, lowest: float) -> Chart:
        """Give the map as it is, its upright axis begun at ``lowest``."""
        figure = self._figure
        figure.update_yaxes(range=[lowest, float(self.up.max())], showgrid=False)
        figure.update_xaxes(range=[float(self.rpm.min()), float(self.rpm.max())], showgrid=False)
        figure.update_layout(showlegend=False)
        return Chart(name=name, title=title, summary=summary, figure=figure)


def map_chart(findings: Findings) -> Chart | None:
    """Map frequencies, each order a rising line; None for a drive without sound."""
    full = findings.level_map
    if full is None:
        return None
    engine, highest_hz = findings.engine, max((b.high_hz for b in findings.bands), default=0.0)
    firing_hz = engine.firing_order * findings.driven_rpm[1] / 60.0 if engine else 0.0
    picture = _ColorMap(
        full.rpm,
        full.frequency_hz,
        full.level_db,
        top=max(_LEAST_TOP_HZ, 1.3 * highest_hz, 1.3 * firing_hz),
        unit=words.level_read(findings.level_unit),
        title="Frequency (Hz)",
        readout="%{y:.1f} Hz",
        height_px=_HERTZ_PX,
    )
    orders = _orders(findings)
    for index, order in enumerate(orders):
        _order_line(picture, order, _DASHES[index % len(_DASHES)], findings.engine)
    for band in findings.bands:
        picture.mark(band, np.array([band.low_hz, band.peak_hz, band.high_hz]))
    title, summary = "Level over engine speed and frequency", _summary(findings, picture, orders)
    chart = picture.chart("map", title, summary, lowest=float(picture.up.min()))
    chart.figure.update_layout(margin={"t": 44})
    return chart


def order_map_chart(findings: Findings) -> Chart | None:
    """Map orders, each cause a falling line; None for a drive without sound or without a drone."""
    full = findings.order_map
    if full is None or full.rpm.size < 2 or not findings.bands:
        return None
    highest = max(band.engine_order for band in findings.bands)
    firing = findings.engine.firing_order if findings.engine is not None else 0.0
    picture = _ColorMap(
        full.rpm,
        full.engine_order,
        full.level_db,
        top=max(_LEAST_TOP_ORDER, highest + 1.0, 2.0 * firing + 0.5),
        unit=words.level_read(findings.level_unit),
        title="Order (beats per turn of the crankshaft)",
        readout="order %{y:.2f}",
        height_px=_ORDERS_PX,
    )
    shown_hz = [cause.frequency_hz for cause in findings.causes[:_MOST_CAUSES]]
    for hz, dash in zip(shown_hz, _DASHES[1:], strict=False):
        _resonance_line(picture, hz, dash)
    for band in findings.bands:
        picture.mark(band, np.full(3, band.engine_order))
    summary = (
        "Bright is loud. What the engine makes lies level here, at its order; a resonance falls "
        "from left to right, where each order meets it. Broken lines: "
        f"{listed([words.hertz(hz) for hz in shown_hz])}. Thick stretches: the drones."
    )
    return picture.chart("orders", "Level over engine speed and engine order", summary, lowest=0.0)


def _summary(findings: Findings, shown: _ColorMap, orders: tuple[float, ...]) -> str:
    names = listed([words.order_name(o, findings.engine) for o in orders])
    text = (
        f"Bright is loud. Each line is one order of the engine, rising with engine speed: {names}. "
        f"The map runs from {words.rpm(shown.rpm.min())} to {words.rpm(shown.rpm.max())} and up to "
        f"{words.hertz(shown.up.max())}. "
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


def _orders(findings: Findings) -> tuple[float, ...]:
    """Choose few lines: the bands' orders, and the firing order with its half and double."""
    chosen = {band.engine_order for band in findings.bands}
    if findings.engine is not None:
        few = {findings.engine.firing_order * factor for factor in (0.5, 1.0, 2.0)}
        chosen |= set(filter(findings.engine.can_have, few))
    return tuple(sorted(chosen))


def _order_line(picture: _ColorMap, order: float, dash: str, engine: Engine | None) -> None:
    top_hz = float(picture.up.max())
    end_rpm = min(float(picture.rpm.max()), 60.0 * top_hz / order)
    rpm = np.linspace(float(picture.rpm.min()), end_rpm, 40)
    if end_rpm <= rpm[0]:
        return
    name, hz = words.order_name(order, engine), order * rpm / 60.0
    picture.line(rpm, hz, name=name, dash=dash)
    is_at_top = bool(hz[-1] > 0.97 * top_hz)
    yanchor, yshift = ("bottom", 2) if is_at_top else ("middle", -12)
    picture.label(rpm[-1], hz[-1], name, xanchor="right", xshift=-4, yanchor=yanchor, yshift=yshift)


def _resonance_line(picture: _ColorMap, frequency_hz: float, dash: str) -> None:
    order = 60.0 * frequency_hz / picture.rpm
    inside = order <= picture.up.max()
    if not inside.any():
        return
    rpm, order, name = picture.rpm[inside], order[inside], words.hertz(frequency_hz)
    picture.line(rpm, order, name=name, dash=dash)
    picture.label(rpm[0], order[0], name, xanchor="left", xshift=4, yanchor="bottom", yshift=2)


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
        # neighbours were added up as power: decibels have no mean
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
