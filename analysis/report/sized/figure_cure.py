"""What the branch takes off: a map of loss over frequency and gas, level before and after."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math

import numpy as np
import plotly.graph_objects as go

from analysis.basics.cure import is_near
from analysis.basics.units import ZERO_C_K
from analysis.branches import LevelCurves, Sizing, Target
from analysis.report.blocks import Chart
from analysis.report.figure_style import BAND, BLUE, GREY, INK, RUST, add_curve, compact, new_figure
from analysis.words import quantities as words
from analysis.words.sentences import listed
from analysis.words.shown import either

# judgement: layout, moves no answer.
_HEIGHT_PX = 380
_MOST_SHOWN_DB, _STEP_DB = 30.0, 2.5
_ENOUGH_DB = 10.0  # half as loud: common practice, no source
_ORANGE = "#e69f00"


def loss_chart(sizing: Sizing) -> Chart:
    """Transmission loss over frequency and gas temperature, with what is enough outlined."""
    curves = sizing.loss_curves
    celsius = curves.temperature_k - ZERO_C_K
    fahrenheit = 1.8 * celsius + 32.0
    unit = either("°C", "°F", "°C")
    degrees = fahrenheit if unit == "°F" else celsius
    figure = new_figure("Frequency (Hz)", f"Gas in the branch ({unit})", height_px=_HEIGHT_PX)
    figure.add_trace(
        go.Contour(
            x=compact(curves.frequency_hz),
            y=compact(degrees, 1),
            z=compact(np.minimum(curves.loss_db, _MOST_SHOWN_DB), 1),
            customdata=compact(np.tile(fahrenheit[:, None], curves.frequency_hz.size), 0),
            colorscale="Cividis",
            contours={"start": 0.0, "end": _MOST_SHOWN_DB, "size": _STEP_DB},
            line={"width": 0},
            colorbar={"title": {"text": "dB less", "side": "right"}, "thickness": 14},
            hovertemplate="%{x:.1f} Hz<br>"
            + either("%{y:.0f} °C", "%{y:.0f} °F", "%{y:.0f} °C (%{customdata:.0f} °F)")
            + "<br>"
            "%{z:.1f} dB less<extra></extra>",
        )
    )
    figure.add_trace(
        go.Contour(
            x=compact(curves.frequency_hz),
            y=compact(degrees, 1),
            z=compact(curves.loss_db, 1),
            contours={"type": "constraint", "operation": ">", "value": _ENOUGH_DB},
            fillcolor="rgba(0,0,0,0)",
            line={"color": "#ffffff", "width": 2.5},
            showlegend=False,
            hoverinfo="skip",
        )
    )
    for edge_hz in (edge for each in sizing.targets for edge in (each.low_hz, each.high_hz)):
        figure.add_vline(x=edge_hz, line={"color": _ORANGE, "width": 2.5, "dash": "dash"})
    likely = float(degrees[curves.likely_index])
    figure.add_hline(y=likely, line={"color": "#ffffff", "width": 1.5, "dash": "dot"})
    figure.update_xaxes(range=_around(sizing.targets, curves.frequency_hz))
    figure.update_yaxes(range=[float(degrees[0]), float(degrees[-1])])
    return Chart(
        name="loss",
        title="What comes off, by frequency and gas temperature",
        summary=_loss_summary(sizing),
        figure=figure,
    )


def level_chart(sizing: Sizing) -> Chart | None:
    """Predicted level over engine speed; None without an engine order."""
    curves = sizing.level_curves
    if curves is None:
        return None
    figure = new_figure(
        "Engine speed (rpm)", "Level (dB against the old peak)", height_px=_HEIGHT_PX
    )
    for each in sizing.targets:
        low, high, peak = map(each.rpm, (each.low_hz, each.high_hz, each.peak_hz))
        if low is not None and high is not None and peak is not None:
            figure.add_vrect(x0=low, x1=high, fillcolor=BAND, line_width=0, layer="below")
            figure.add_vline(x=peak, line={"color": GREY, "width": 1.5, "dash": "dash"})
    lines = (
        ("without a branch", curves.before_db, INK, "solid"),
        ("with the branch, gas as expected", curves.after_db, BLUE, "dash"),
        ("with the branch, worst temperature", curves.after_worst_db, RUST, "dot"),
    )
    for name, level_db, colour, dash in lines:
        line = {"color": colour, "dash": dash, "width": 2.5}
        add_curve(figure, curves.rpm, level_db, name, line)
    return Chart(
        name="predicted",
        title="Predicted level of the drone's order, with and without",
        summary=_level_summary(sizing, curves),
        figure=figure,
    )


def _around(targets: tuple[Target, ...], frequency_hz: np.ndarray) -> list[float]:
    low = max(float(frequency_hz.min()), 0.5 * min(target.low_hz for target in targets))
    return [low, min(float(frequency_hz.max()), 1.6 * max(target.high_hz for target in targets))]


def _loss_summary(sizing: Sizing) -> str:
    target, curves = sizing.target, sizing.loss_curves
    text = (
        f"{'The worst drone' if sizing.others else 'The drone'} lies between the dashed lines, "
        f"{words.hertz(target.low_hz)} to {words.hertz(target.high_hz)}"
        f"{', the others likewise' if sizing.others else ''}; inside the white line "
        f"{_ENOUGH_DB:.0f} dB or more comes off. Hotter gas moves that to higher frequencies; the "
        "dotted line is the likeliest gas. "
    )
    inside = (curves.frequency_hz >= target.low_hz) & (curves.frequency_hz <= target.high_hz)
    if not inside.any():
        return text.strip()
    if sizing.line is not None:
        return (
            f"{text}It tells where the branches work, as in a pipe without an end; how much comes "
            "off in this exhaust is said below."
        )
    rows = sorted({0, curves.likely_index, curves.temperature_k.size - 1})
    least = [
        f"{words.decibel(float(curves.loss_db[row][inside].min()))} with the gas at "
        f"{words.temperature_both(float(curves.temperature_k[row]))}"
        for row in rows
    ]
    takes = "branch takes" if len(sizing.branches) == 1 else "two branches together take"
    return f"{text}Across the whole of the drone the {takes} off at least {listed(least)}."


def _level_summary(sizing: Sizing, curves: LevelCurves) -> str:
    top = int(np.nanargmax(curves.before_db))
    peak_rpm = float(curves.rpm[top])
    near = is_near(curves.rpm, peak_rpm)
    left = int(np.nanargmax(np.where(near, curves.after_db, -np.inf)))
    middle = ""
    if sizing.line is not None:
        middle = (
            " Each line is the middle of all exhausts that fit, engine speed by engine speed; as "
            "none of them is quiet everywhere, the highest level expected lies above the line."
        )
    beside_db = sizing.predicted.elsewhere_change_db
    beside = "At other engine speeds it may get louder: that depends on the place."
    if math.isfinite(beside_db):
        by = words.change(beside_db)
        beside = f"At other engine speeds the order's highest level changes by {by}."
    return (
        f"What is left of the drone, which is loudest at {words.rpm(peak_rpm)} now, is loudest at "
        f"{words.rpm(float(curves.rpm[left]))}. {beside}{middle}"
    )
