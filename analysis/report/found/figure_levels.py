"""Level of one order over engine speed, and the overall levels beside it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.basics.levels import level_db
from analysis.find.curves.passes import sweeps
from analysis.findings import DroneBand, Findings, OrderCurve
from analysis.report.blocks import Chart
from analysis.report.figure_style import (
    BLUE,
    GREEN,
    GREY,
    INK,
    RUST,
    add_curve,
    new_figure,
    shade_band,
)
from analysis.words import quantities as words
from analysis.words.sentences import listed

_PASS_SYMBOLS = ("circle-open", "x-thin-open", "triangle-up-open", "square-open", "cross-thin-open")
_OVERALL_HEIGHT_PX = 340  # judgement: layout, moves no answer
_FAINTEST_PERCENT = 2.0  # of what is shown may lie below the axis
_AXIS_ROOM_DB = 2.0


def order_chart(findings: Findings, order: float) -> Chart | None:
    """One order: each pass thin, their mean, the fit and the trend; None without such a curve."""
    curve = findings.curve(order)
    if curve is None or curve.rpm.size == 0:
        return None
    unit = escape(words.level_read(findings.level_unit))
    bands = tuple(b for b in findings.bands if b.engine_order == order)
    axis = escape(words.level_axis(findings.level_unit))
    figure = new_figure("Engine speed (rpm)", f"Level ({axis})")
    for band in bands:
        shade_band(figure, band)
    _passes(figure, curve, findings.full_scale_db, unit)
    rpm, mean_db = mean_curve(curve, findings.full_scale_db)
    _, first = np.unique(curve.bin_index, return_index=True)
    fit_rpm = curve.rpm[first]
    fitted, trend = (
        each[first] + findings.full_scale_db for each in (curve.fitted_db, curve.trend_db)
    )
    for name, x, each_db, line in (
        ("mean", rpm, mean_db, {"color": INK, "width": 2.5}),
        ("smoothed", fit_rpm, fitted, {"color": BLUE, "width": 2.5, "dash": "dash"}),
        ("without the drone", fit_rpm, trend, {"color": GREY, "width": 2, "dash": "dot"}),
    ):
        if np.isfinite(each_db).any():
            add_curve(figure, x, each_db, name, line, unit=unit)
    shown = level_db(curve.total_ms - curve.background_ms, findings.full_scale_db)
    hold_axis(figure, shown, fitted, trend, mean_db)
    name = words.order_name(order, findings.engine)
    return Chart(
        name=f"order-{order:g}".replace(".", "-"),
        title=f"Overall level over engine speed, taken as {name}"
        if findings.levels_only
        else f"Level of {name} over engine speed",
        summary=_summary(curve, bands, rpm, mean_db, words.level_read(findings.level_unit)),
        figure=figure,
    )


def overall_chart(findings: Findings) -> Chart | None:
    """Overall level, unweighted, C and A; None for levels only: the order's curve is it already."""
    if findings.levels_only:
        return None
    overall = findings.overall
    unit = words.level_axis(findings.level_unit)
    figure = new_figure(
        "Engine speed (rpm)", f"Overall level ({escape(unit)})", height_px=_OVERALL_HEIGHT_PX
    )
    for band in findings.bands[:1]:
        shade_band(figure, band)
    drawn = []
    for name, each_db, colour, dash, symbol in (
        ("unweighted (Z)", overall.level_z_db, INK, "solid", "circle"),
        ("C-weighted", overall.level_c_db, GREEN, "dash", "square"),
        ("A-weighted", overall.level_a_db, RUST, "dot", "triangle-up"),
    ):
        if not np.isfinite(each_db).any():
            continue
        drawn.append((name, each_db))
        marker = {"symbol": symbol, "size": 6, "maxdisplayed": 14}
        line = {"color": colour, "dash": dash, "width": 2}
        add_curve(figure, overall.rpm, each_db, name, line, marker=marker)
    if not drawn:
        return None
    figure.update_layout(showlegend=True)
    spans = [
        f"{n}: {words.number(np.nanmin(v))} to {words.decibel(np.nanmax(v))}" for n, v in drawn
    ]
    return Chart(
        name="overall",
        title="Everything the microphone heard, over engine speed",
        summary=f"Overall level, all sounds together. {'; '.join(spans)} ({unit}).",
        figure=figure,
    )


def hold_axis(figure: go.Figure, *shown_db: FloatArray) -> None:
    """Let no single faint point stretch the level axis; a double click shows all there is."""
    known_db = np.concatenate([level[np.isfinite(level)] for level in shown_db])
    if known_db.size:
        lowest, highest = np.percentile(known_db, [_FAINTEST_PERCENT, 100.0])
        figure.update_yaxes(range=[lowest - _AXIS_ROOM_DB, highest + _AXIS_ROOM_DB])


def mean_curve(curve: OrderCurve, full_scale_db: float) -> tuple[FloatArray, FloatArray]:
    """Mean over the passes in each rpm bin, background removed.

    Returns
    -------
    rpm, level_db : ndarray [shape=(n_bins,)]
        Averaged as mean square, each pass weighted by its seconds.
    """
    bins, where = np.unique(curve.bin_index, return_inverse=True)
    seconds = np.bincount(where, weights=curve.seconds, minlength=bins.size)
    signal_ms = curve.total_ms - curve.background_ms

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(where, weights=values * curve.seconds, minlength=bins.size) / seconds

    return mean(curve.rpm), level_db(mean(signal_ms), full_scale_db)


def _passes(figure: go.Figure, curve: OrderCurve, full_scale_db: float, unit: str) -> None:
    each_db = level_db(curve.total_ms - curve.background_ms, full_scale_db)
    indices = np.unique(curve.pass_index)
    for index in map(int, indices):
        mine = curve.pass_index == index
        symbol = _PASS_SYMBOLS[index % len(_PASS_SYMBOLS)]
        marker = {"symbol": symbol, "size": 6, "color": GREY, "opacity": 0.7}
        name = f"sweep {index + 1}"
        add_curve(figure, curve.rpm[mine], each_db[mine], name, marker=marker, unit=unit)
    # the legend tells of the first what all are
    figure.update_traces(showlegend=False)
    figure.data[0].update(name="one sweep each", showlegend=True)


def _summary(
    curve: OrderCurve,
    bands: tuple[DroneBand, ...],
    rpm: FloatArray,
    mean_db: FloatArray,
    unit: str,
) -> str:
    swept = sweeps(curve.pass_index, curve.rpm)
    passes = np.unique(curve.pass_index[swept] if swept.any() else curve.pass_index).size
    if not np.isfinite(mean_db).any():
        return "This order stays below the background all along."
    top = int(np.nanargmax(mean_db))
    text = (
        f"{passes} {'sweep' if passes == 1 else 'sweeps'} through {words.rpm(rpm.min())} to "
        f"{words.rpm(rpm.max())}; the mean is highest at {words.rpm(rpm[top])} with "
        f"{words.number(mean_db[top], 1)} {unit}. "
    )
    if not bands:
        return text + "No drone is marked on this order."
    shaded = [f"{words.rpm(b.low_rpm)} to {words.rpm(b.high_rpm)}" for b in bands]
    return (
        f"{text}Shaded: the drone from {listed(shaded)}; the darker stripes at its edges are "
        "95 % intervals, the dashed line is its peak."
    )
