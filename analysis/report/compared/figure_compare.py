"""Before against after: one change with its interval for each band, and the order's curves."""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Iterator
from dataclasses import replace
from html import escape

import numpy as np
import plotly.graph_objects as go

from analysis.compare.judgement import headline
from analysis.drive import Engine
from analysis.report.blocks import Chart, Text
from analysis.report.contents import ReportContents
from analysis.report.figure_style import BLUE, GREY, INK, add_curve, arms, new_figure, shade_band
from analysis.verdicts import (
    BandChange,
    Comparison,
    OrderBeforeAfter,
    OverallBeforeAfter,
    Verdict,
    taken_off,
)
from analysis.words import quantities as words
from analysis.words.sentences import listed, sentence

PICTURE_PX = 380  # judgement: layout; with the answer above it, it fits the first screen

# A symbol for each verdict, so that no colour has to be told from another.
_SYMBOLS = {
    Verdict.CURED: "star",
    Verdict.REDUCED: "triangle-down",
    Verdict.UNCHANGED: "circle",
    Verdict.WORSE: "triangle-up",
    Verdict.MOVED: "diamond",
    Verdict.CANNOT_TELL: "x",
}


def change_chart(comparison: Comparison) -> Chart | None:
    """Change of each band with its 95 % interval; None when no band could be measured."""
    known = [c for c in comparison.changes if math.isfinite(c.level_change_db)]
    if not known:
        return None
    height_px = 130 + 50 * len(known)
    figure = new_figure("Change (dB); left is quieter", "", height_px=height_px)
    labels = [f"order {c.band.engine_order:g}, {words.hertz(c.band.peak_hz)}" for c in known]
    figure.add_trace(
        go.Scatter(
            x=[round(c.level_change_db, 2) for c in known],
            y=labels,
            mode="markers+text",
            text=[c.verdict.value for c in known],
            textposition="top center",
            marker={"size": 13, "color": INK, "symbol": [_SYMBOLS[c.verdict] for c in known]},
            error_x=arms(known, INK, width_px=7),
            hovertemplate="%{y}<br>%{x:+.1f} dB<extra></extra>",
        )
    )
    figure.add_vline(x=0.0, line={"color": GREY, "width": 1.5, "dash": "dash"})
    # upside down, and with room for the verdict above the first band
    figure.update_yaxes(range=[len(known) - 0.5, -0.8], automargin=True, showgrid=False)
    figure.update_layout(showlegend=False)
    parts = [
        f"{label}: {words.change(c.level_change_db)}, interval {words.change(c.ci95_db.low)} to "
        f"{words.change(c.ci95_db.high)}"
        for label, c in zip(labels, known, strict=True)
    ]
    return Chart(
        name="change",
        title="Change of each drone, with its 95 % interval",
        summary=sentence("; ".join(parts)),
        figure=figure,
    )


def outcome_picture(contents: ReportContents, comparison: Comparison) -> Chart | Text:
    """Show the order of the answer before and after, and say what else changed."""
    change = headline(comparison)
    withheld = contents.findings.withheld or (contents.postfix and contents.postfix.withheld)
    curve = next(
        (c for c in comparison.curves if change and c.engine_order == change.band.engine_order),
        next(iter(comparison.curves), None),
    )
    if withheld or curve is None or not curve.rpm.size:
        return Text(text="No picture: there is no engine speed at which both drives can be shown.")
    chart = before_after_chart(curve, comparison, contents.findings.engine, comparison.level_unit)
    return replace(chart, summary=f"{chart.summary} {_news(contents, comparison)}")


def other_order_charts(contents: ReportContents, comparison: Comparison) -> list[Chart]:
    """Show the orders that the picture of the answer does not show."""
    shown = outcome_picture(contents, comparison)
    charts = [
        before_after_chart(curve, comparison, contents.findings.engine, comparison.level_unit)
        for curve in comparison.curves
        if curve.rpm.size
    ]
    return [c for c in charts if isinstance(shown, Chart) and c.name != shown.name]


def before_after_chart(
    curve: OrderBeforeAfter, comparison: Comparison, engine: Engine | None, unit: str
) -> Chart:
    """Show one order before and after."""
    axis, unit = escape(words.level_axis(unit)), escape(words.level_read(unit))
    figure = new_figure("Engine speed (rpm)", f"Level ({axis})", height_px=PICTURE_PX)
    mine = [c for c in comparison.changes if c.band.engine_order == curve.engine_order]
    for change in mine:
        shade_band(figure, change.band)
    add_before_after(figure, curve, unit)
    for band in comparison.new_bands:
        if band.engine_order == curve.engine_order:
            figure.add_vrect(
                x0=band.low_rpm,
                x1=band.high_rpm,
                fillcolor="rgba(0,0,0,0)",
                line={"color": INK, "width": 1.5, "dash": "dot"},
                annotation={"text": "new", "font": {"size": 13}},
            )
    name = words.order_name(curve.engine_order, engine)
    if comparison.is_of_levels:
        name = f"overall level, taken as {name}"
    redrawn = ""
    if (gain := taken_off(comparison.gain)) is not None:
        redrawn = (
            f" The drive after is drawn {words.quieter(-gain.gain_db)} than it was recorded, "
            "because its gain differed."
        )
    return Chart(
        name=f"compare-{curve.engine_order:g}".replace(".", "-"),
        title=f"{sentence(name)[:-1]}, before and after",
        summary=_summary(mine) + redrawn,
        figure=figure,
    )


def add_before_after(
    figure: go.Figure, curve: OrderBeforeAfter | OverallBeforeAfter, unit: str
) -> None:
    """Draw one level before and after; ``unit`` is escaped."""
    for name, level_db, colour, dash, symbol in (
        ("before", curve.before_db, INK, "solid", "circle"),
        ("after", curve.after_db, BLUE, "dash", "square-open"),
    ):
        line = {"color": colour, "dash": dash, "width": 2.5}
        marker = {"symbol": symbol, "size": 7, "maxdisplayed": 20}
        add_curve(figure, curve.rpm, level_db, name, line, marker=marker, unit=unit)


def _summary(mine: list[BandChange]) -> str:
    if not mine:
        return "Solid: before. Dashed: after. Before, no drone stood out on this order."
    text = "Solid: before. Dashed: after. Shaded: the drone before."
    for change in mine:
        if np.isfinite(change.highest_change_db):
            which = "" if len(mine) == 1 else f" at {words.rpm(change.band.peak_rpm)}"
            text += (
                f" The highest point of the drone{which} is "
                f"{words.quieter(change.highest_change_db)}, its mean over the shaded band "
                f"{words.quieter(change.level_change_db)}."
            )
    return text


def _news(contents: ReportContents, comparison: Comparison) -> str:
    """Say what else changed, and what did not."""
    said = [
        *(f"order {b.engine_order:g} at {words.rpm(b.peak_rpm)}" for b in comparison.new_bands),
        *(f"a tone at {words.hertz(whistle.frequency_hz)}" for whistle in comparison.whistles),
    ]
    if said:
        return f"New: {listed(said)}."
    if comparison.is_of_levels:
        return "Levels cannot tell whether there is a new drone or tone."
    news = "The drive after has no new drone and no new tone."
    if was_there := list(_was_there(contents, comparison)):
        news += f" What stands out only now was heard before too: {listed(was_there)}."
    return news


def _was_there(contents: ReportContents, comparison: Comparison) -> Iterator[str]:
    """Name what find tells of the post-fix drive that the baseline had too, hidden by its drone."""
    for band in () if contents.postfix is None else contents.postfix.bands:
        curve = next((c for c in comparison.curves if c.engine_order == band.engine_order), None)
        known = any(
            change.band.engine_order == band.engine_order
            and change.band.low_rpm <= band.peak_rpm <= change.band.high_rpm
            for change in comparison.changes
        )
        if known or curve is None:
            continue
        inside = (curve.rpm >= band.low_rpm) & (curve.rpm <= band.high_rpm)
        if not inside.any():
            continue
        by_db = float(np.median(curve.after_db[inside] - curve.before_db[inside]))
        heard = "as loud now" if abs(by_db) < words.UNHEARD_DB else f"{words.quieter(by_db)} now"
        yield f"order {band.engine_order:g} at {words.rpm(band.peak_rpm)} ({heard})"
