"""The whole exhaust in pictures: pressure along it with the branches, places, model and drive."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import TypeVar

import numpy as np
import plotly.graph_objects as go

from analysis.basics.arrays import FloatArray
from analysis.basics.cure import CURED_DB, ELSEWHERE_DB
from analysis.basics.units import INCH_M
from analysis.branches import LinePicture, Sizing
from analysis.report.blocks import Chart
from analysis.report.figure_style import BAND, BLUE, GREY, INK, RUST, add_curve, compact, new_figure
from analysis.report.sized.why_not_there import why_not_there
from analysis.words import quantities as words
from analysis.words.lengths import rough_length
from analysis.words.places import measured_from
from analysis.words.sentences import listed, sentence
from analysis.words.shown import either

# judgement: layout, moves no answer.
_LINE_PX, _MAP_PX, _MODEL_PX = 420, 430, 360
_DEEPEST_DB = -30.0
_HARDLY_ANY = 1.0  # percent; judgement: it only chooses the words
_STEEL = "rgba(35, 40, 43, 0.10)"
_ROOM, _BRANCH = "rgba(0, 122, 90, 0.45)", "rgba(179, 71, 0, 0.55)"

_Length = TypeVar("_Length", float, FloatArray)


def line_charts(sizing: Sizing) -> tuple[Chart, ...]:
    """Charts of the whole exhaust; none when its sections are not known."""
    if sizing.line is None:
        return ()
    charts: list[Chart | None] = []
    for number, line in enumerate((sizing.line, *sizing.other_lines), start=1):
        for chart in (_line(sizing, line), _place_map(sizing, line)):
            # the charts of another pipe have names of their own
            own = chart.name if number == 1 else f"{chart.name}-{number}"
            charts.append(replace(chart, name=own))
    charts.append(_model(sizing.line))
    return tuple(chart for chart in charts if chart is not None)


def _line(sizing: Sizing, line: LinePicture) -> Chart:
    """Draw the pipe to scale along the axis, the pressure at the drone above it."""
    figure = new_figure(_along(line), "Pressure (dB)", height_px=_LINE_PX)
    position, low, middle, high = _with_breaks(
        _shown(line.position_m), line.pressure_low_db, line.pressure_db, line.pressure_high_db
    )
    for name, level_db, colour, dash, width in (
        ("lowest of eight in ten cases", low, GREY, "dot", 1.5),
        ("pressure at the drone", middle, BLUE, "solid", 3.0),
        ("highest of eight in ten cases", high, GREY, "dash", 1.5),
    ):
        add_curve(
            figure,
            position,
            np.maximum(level_db, _DEEPEST_DB),
            name,
            {"color": colour, "dash": dash, "width": width},
            readout=f"{_x()}<br>%{{y:.1f}} dB",
            x_decimals=3,
        )
    _draw_pipe(figure, sizing, line)
    figure.update_yaxes(
        domain=[0.36, 1.0], range=[_DEEPEST_DB, 3.0], title_text="Pressure (dB, highest is 0)"
    )
    end = float(_shown(line.sections[-1].start_m + line.sections[-1].length_m))
    figure.update_xaxes(range=[-0.02 * end, 1.02 * end], anchor="free", position=0.0)
    which = f"the {listed(list(line.legs))} pipe" if line.legs else "the exhaust"
    return Chart(
        name="line",
        title=f"Pressure along {which} at the drone, and where the branches go",
        summary=_line_summary(sizing, line),
        figure=figure,
    )


def _shown(length_m: _Length) -> _Length:
    """Give lengths as the axes show them, in metres or inches."""
    return length_m / (INCH_M if _unit() == "in" else 1.0)


def _unit() -> str:
    return either("m", "in", "m")


def _x() -> str:
    """Say where the pointer is along the pipe."""
    return either("%{x:.2f} m", "%{x:.0f} in", "%{x:.2f} m")


def _along(line: LinePicture) -> str:
    return f"Distance {measured_from(line.legs)} ({_unit()})"


def _draw_pipe(figure: go.Figure, sizing: Sizing, line: LinePicture) -> None:
    """Sections, branches and room, in the strip below the pressure (paper units 0.02 to 0.3)."""
    widest_m = max(section.inner_diameter_m for section in line.sections)
    middle, per_m = 0.085, 0.07 / (0.5 * widest_m)
    for section in line.sections:
        half, end_m = 0.5 * section.inner_diameter_m * per_m, section.start_m + section.length_m
        _box(figure, (section.start_m, end_m), (middle - half, middle + half), _STEEL)
    for start_m, end_m in line.room_m:
        _box(figure, (start_m, end_m), (0.0, 0.008), _ROOM)
    high_per_m = 0.13 / max(branch.length_m for branch in sizing.branches)
    for number, branch in enumerate(sizing.branches, start=1):
        if branch.position_m is None or branch.legs != line.legs:
            continue
        foot = middle + 0.5 * sizing.pipe_inner_diameter_m * per_m
        for start_m, end_m, tube in branch.tubes:
            half_m = 0.5 * tube.inner_diameter_m
            across = branch.position_m - half_m, branch.position_m + half_m
            up = foot + high_per_m * start_m, foot + high_per_m * end_m
            _box(figure, across, up, _BRANCH)
        figure.add_vline(
            x=_shown(branch.position_m), line={"color": RUST, "width": 1.2, "dash": "dash"}
        )
        figure.add_annotation(
            x=_shown(branch.position_m),
            y=foot + high_per_m * branch.length_m,
            yref="paper",
            text=f"{number}" if len(sizing.branches) > 1 else "branch",
            xanchor="center",
            yanchor="bottom",
            showarrow=False,
            font={"size": 12, "color": INK},
        )


def _box(figure: go.Figure, x: tuple[float, float], y: tuple[float, float], colour: str) -> None:
    figure.add_shape(
        type="rect",
        x0=_shown(x[0]),
        x1=_shown(x[1]),
        y0=y[0],
        y1=y[1],
        yref="paper",
        fillcolor=colour,
        line={"color": INK, "width": 1.0},
    )


def _with_breaks(position_m: FloatArray, *curves: FloatArray) -> Iterator[FloatArray]:
    """Break the lines where a muffler lies between two pipes."""
    steps = np.diff(position_m)
    gaps = np.flatnonzero(steps > 3.0 * np.median(steps)) + 1
    yield np.insert(position_m, gaps, np.nan)
    for curve in curves:
        yield np.insert(curve, gaps, np.nan)


def _line_summary(sizing: Sizing, line: LinePicture) -> str:
    said = []
    for number, branch in enumerate(sizing.branches, start=1):
        if branch.position_m is not None and branch.legs == line.legs:
            at = int(np.abs(line.position_m - branch.position_m).argmin())
            name = f"branch {number}" if len(sizing.branches) > 1 else "the branch"
            said.append(
                f"{name} at {rough_length(branch.position_m)}, where the pressure is "
                f"{words.number(-float(line.pressure_db[at]), 0)} dB below the highest"
            )
    room = " The green bar shows where there is room." if line.room_m else ""
    return (
        "A branch works on pressure: the lower the curve, the less it does for the drone. "
        f"Lengths are to scale, widths are exaggerated.{room} "
        f"{sentence(listed(said)) if said else ''} {_why_not(sizing, line)}"
    ).strip()


def _why_not(sizing: Sizing, line: LinePicture) -> str:
    mine = (each.position_m for each in sizing.branches if each.legs == line.legs)
    chosen_m = [at_m for at_m in mine if at_m is not None]
    return (why_not_there(line, chosen_m) if chosen_m else None) or ""


def _place_map(sizing: Sizing, line: LinePicture) -> Chart:
    """Colour the change of the drone over place and length of one branch; hatch what moves it."""
    places = line.places
    at = f"{_x()}<br>{either('%{y:.3f} m', '%{y:.1f} in', '%{y:.3f} m')} long"
    figure = new_figure(_along(line), f"Length of the branch ({_unit()})", height_px=_MAP_PX)
    figure.add_trace(
        go.Heatmap(
            x=compact(_shown(places.position_m), 3),
            y=compact(_shown(places.length_m), 3),
            z=compact(np.clip(places.drone_db, -25.0, 5.0).T, 1),
            colorscale="Cividis",
            reversescale=True,
            colorbar={"title": {"text": "dB", "side": "right"}, "thickness": 14},
            hovertemplate=f"{at}<br>%{{z:.1f}} dB<extra></extra>",
        )
    )
    draw = partial(add_curve, figure, x_decimals=3, y_decimals=3)
    row, column = np.nonzero(places.elsewhere_db.T > ELSEWHERE_DB)
    draw(
        _shown(places.position_m[column]),
        _shown(places.length_m[row]),
        "another engine speed gets louder",
        marker={"symbol": "x-thin-open", "size": 5, "color": RUST},
        readout=f"{at}<br>more than 3 dB",
    )
    chosen = [each for each in sizing.branches if each.legs == line.legs]
    edge = {"color": INK, "width": 2}
    draw(
        _shown(np.array([each.position_m for each in chosen], dtype=np.float64)),
        _shown(np.array([each.length_m for each in chosen])),
        "chosen",
        marker={"symbol": "diamond", "size": 13, "color": "#ffffff", "line": edge},
        readout=f"{at}<br>dB: see the table",
    )
    for start_m, end_m in line.room_m:
        figure.add_vrect(
            x0=_shown(start_m),
            x1=_shown(end_m),
            line={"color": "#007a5a", "width": 2, "dash": "dot"},
        )
    figure.update_layout(showlegend=False)
    where = f" on the {listed(list(line.legs))} pipe" if line.legs else ""
    return Chart(
        name="places",
        title=f"What one branch would do{where}, by place and length; crosses: another engine "
        "speed gets louder",
        summary=_map_summary(sizing, line),
        figure=figure,
    )


def _map_summary(sizing: Sizing, line: LinePicture) -> str:
    places = line.places
    good = (places.drone_db <= CURED_DB) & (places.elsewhere_db <= ELSEWHERE_DB)
    in_room = good[places.has_room]
    share = 100.0 * float(in_room.mean()) if in_room.size else 0.0
    chosen = "diamonds are the two" if len(sizing.branches) == 2 else "diamond is the one"
    text = (
        "Bright takes more off the drone; in nine of ten likely cases it takes off more than "
        f"shown. Crosses: some other engine speed would get more than 3 dB louder. The {chosen} "
        "chosen. "
    )
    if share < _HARDLY_ANY:
        return f"{text}No single branch in the room given is sure to cure it."
    return f"{text}Of all places and lengths in the room, {share:.0f} % would cure it."


def _model(line: LinePicture) -> Chart | None:
    """Lay the modelled level over the measured one."""
    if line.measured_db is None or line.modelled_db is None:
        return None
    figure = new_figure("Frequency (Hz)", "Level (dB, the drone is 0)", height_px=_MODEL_PX)
    low, middle, high = line.modelled_db
    figure.add_trace(
        go.Scatter(
            x=compact(np.concatenate([line.frequency_hz, line.frequency_hz[::-1]])),
            y=compact(np.concatenate([low, high[::-1]])),
            name="eight of ten exhausts that fit",
            mode="lines",
            fill="toself",
            fillcolor=BAND,
            line={"width": 0},
            hoverinfo="skip",
            hovertemplate="%{y:.1f} dB<extra></extra>",
        )
    )
    for name, level_db, colour, dash in (
        ("measured", line.measured_db, INK, "solid"),
        ("model", middle, BLUE, "dash"),
    ):
        add_curve(
            figure,
            line.frequency_hz,
            level_db,
            name,
            {"color": colour, "dash": dash, "width": 2.5},
            readout="%{x:.1f} Hz<br>%{y:.1f} dB",
            x_decimals=2,
        )
    off_db = float(np.sqrt(np.mean((line.measured_db - middle) ** 2)))
    return Chart(
        name="model",
        title="The exhaust as modelled, against the drive",
        summary=(
            "Lengths, gas temperatures and the echo at the engine were adjusted, within what the "
            "car file leaves open, until the model matched the drive, on top of a slow trend of "
            f"engine and cabin. They differ by {words.number(off_db, 1)} dB (root mean square)."
        ),
        figure=figure,
    )
