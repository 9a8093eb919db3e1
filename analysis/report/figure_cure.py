"""What the branch takes off: loss over frequency and temperature, level before and after."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from analysis.branches import LevelCurves, Sizing, Target
from analysis.report import words
from analysis.report.blocks import Chart
from analysis.report.figure_style import BAND, BLUE, GREY, INK, RUST, compact, new_figure
from analysis.unit_text import listed

_HEIGHT_PX = 380
_LOOK = (
    ("coldest", BLUE, "dot"),
    ("middle", INK, "solid"),
    ("hottest", RUST, "dash"),
)
_MOST_SHOWN_DB = 40.0
_NEAR = (0.85, 1.18)  # of the drone's rpm: where what is left of it counts as the same drone


def loss_chart(sizing: Sizing) -> Chart:
    """Transmission loss over frequency with the gas coldest, in the middle and hottest."""
    curves = sizing.loss_curves
    figure = new_figure("Frequency (Hz)", "Transmission loss (dB)", height_px=_HEIGHT_PX)
    _shade(figure, sizing.target.low_hz, sizing.target.high_hz, sizing.target.peak_hz)
    for row, (name, colour, dash) in _three(curves.temperature_k.size):
        label = f"{name}: {words.temperature(float(curves.temperature_k[row]))}"
        figure.add_trace(
            go.Scatter(
                x=compact(curves.frequency_hz),
                y=compact(curves.loss_db[row]),
                name=label,
                mode="lines",
                line={"color": colour, "dash": dash, "width": 2.5},
                hovertemplate=f"{label}<br>%{{x:.1f}} Hz<br>%{{y:.1f}} dB less<extra></extra>",
            )
        )
    figure.update_yaxes(range=[0.0, min(_MOST_SHOWN_DB, 1.08 * float(curves.loss_db.max()))])
    figure.update_xaxes(range=_around(sizing.target, curves.frequency_hz))
    return Chart(
        name="loss",
        title="What is taken off, by gas temperature",
        summary=_loss_summary(sizing),
        figure=figure,
        height_px=_HEIGHT_PX,
    )


def level_chart(sizing: Sizing) -> Chart | None:
    """Predicted level over engine speed; None without an engine order."""
    curves = sizing.level_curves
    if curves is None:
        return None
    figure = new_figure(
        "Engine speed (rpm)", "Level (dB against today's peak)", height_px=_HEIGHT_PX
    )
    low, high = sizing.target.rpm(sizing.target.low_hz), sizing.target.rpm(sizing.target.high_hz)
    peak = sizing.target.rpm(sizing.target.peak_hz)
    if low is not None and high is not None and peak is not None:
        _shade(figure, low, high, peak)
    lines = (
        ("today", curves.before_db, INK, "solid"),
        ("with the branch, gas as expected", curves.after_db, BLUE, "dash"),
        ("with the branch, worst temperature", curves.after_worst_db, RUST, "dot"),
    )
    for name, level_db, colour, dash in lines:
        figure.add_trace(
            go.Scatter(
                x=compact(curves.rpm, 1),
                y=compact(level_db),
                name=name,
                mode="lines",
                line={"color": colour, "dash": dash, "width": 2.5},
                hovertemplate=f"{name}<br>%{{x:,.0f}} rpm<br>%{{y:.1f}} dB<extra></extra>",
            )
        )
    return Chart(
        name="predicted",
        title="Predicted level of the note, before and after",
        summary=_level_summary(sizing, curves),
        figure=figure,
        height_px=_HEIGHT_PX,
    )


def _three(count: int) -> list[tuple[int, tuple[str, str, str]]]:
    """Coldest, middle and hottest row, without repeats."""
    if count == 1:
        return [(0, _LOOK[1])]
    if count == 2:
        return [(0, _LOOK[0]), (1, _LOOK[2])]
    return list(zip((0, count // 2, count - 1), _LOOK, strict=True))


def _shade(figure: go.Figure, low: float, high: float, peak: float) -> None:
    figure.add_vrect(x0=low, x1=high, fillcolor=BAND, line_width=0, layer="below")
    figure.add_vline(x=peak, line={"color": GREY, "width": 1.5, "dash": "dash"})


def _around(target: Target, frequency_hz: np.ndarray) -> list[float]:
    low = max(float(frequency_hz.min()), 0.5 * target.low_hz)
    return [low, min(float(frequency_hz.max()), 1.6 * target.high_hz)]


def _loss_summary(sizing: Sizing) -> str:
    target, curves = sizing.target, sizing.loss_curves
    inside = (curves.frequency_hz >= target.low_hz) & (curves.frequency_hz <= target.high_hz)
    text = (
        f"Shaded: the drone, {words.hertz(target.low_hz)} to {words.hertz(target.high_hz)}. "
        "Hotter gas moves the tuning to higher frequencies. "
    )
    if not inside.any():
        return text.strip()
    least = [
        f"{words.decibel(float(curves.loss_db[row][inside].min()))} with the gas at "
        f"{words.temperature(float(curves.temperature_k[row]))}"
        for row, _ in _three(curves.temperature_k.size)
    ]
    takes = "branch takes" if len(sizing.branches) == 1 else "two branches together take"
    return f"{text}Across the whole of it the {takes} off at least {listed(least)}."


def _level_summary(sizing: Sizing, curves: LevelCurves) -> str:
    top = int(np.nanargmax(curves.before_db))
    peak_rpm, peak_db = float(curves.rpm[top]), float(curves.before_db[top])
    near = (curves.rpm >= _NEAR[0] * peak_rpm) & (curves.rpm <= _NEAR[1] * peak_rpm)
    left = int(np.nanargmax(np.where(near, curves.after_db, -np.inf)))
    return (
        f"At {words.rpm(peak_rpm)}, where the note is loudest today, it gets "
        f"{words.quieter(float(curves.after_db[top]) - peak_db)}. What is left of the drone is "
        f"loudest at {words.rpm(float(curves.rpm[left]))}, "
        f"{words.decibel(peak_db - float(curves.after_db[left]))} below today's peak: that is what "
        "counts. At other engine speeds the note's highest level changes by "
        f"{words.change(sizing.predicted.elsewhere_change_db)}."
    )
