"""Level over engine speed as colour: against frequency, and against engine order."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np

from analysis.drive import Engine
from analysis.findings import Findings
from analysis.report.blocks import Chart
from analysis.report.found.color_map import ColorMap
from analysis.words import quantities as words
from analysis.words.sentences import listed

# judgement: layout, moves no answer.
_HERTZ_PX, _ORDERS_PX = 500, 460
_LEAST_TOP_HZ, _LEAST_TOP_ORDER = 200.0, 6.0
_MOST_CAUSES = 4
_DASHES = ("solid", "dash", "dot", "dashdot", "longdash")


def map_chart(findings: Findings) -> Chart | None:
    """Map frequencies, each order a rising line; None for a drive without sound."""
    full = findings.level_map
    if full is None:
        return None
    picture = ColorMap(
        full.rpm,
        full.frequency_hz,
        full.level_db,
        top=_top_hz(findings),
        unit=findings.level_unit,
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
    picture = ColorMap(
        full.rpm,
        full.engine_order,
        full.level_db,
        top=_top_order(findings),
        unit=findings.level_unit,
        title="Engine order",
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


def _summary(findings: Findings, shown: ColorMap, orders: tuple[float, ...]) -> str:
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


def _top_hz(findings: Findings) -> float:
    highest = max((b.high_hz for b in findings.bands), default=0.0)
    firing = findings.engine.firing_order * findings.driven_rpm[1] / 60.0 if findings.engine else 0
    return max(_LEAST_TOP_HZ, 1.3 * highest, 1.3 * firing)


def _top_order(findings: Findings) -> float:
    highest = max(band.engine_order for band in findings.bands)
    firing = findings.engine.firing_order if findings.engine is not None else 0.0
    return max(_LEAST_TOP_ORDER, highest + 1.0, 2.0 * firing + 0.5)


def _orders(findings: Findings) -> tuple[float, ...]:
    """Choose few lines: the bands' orders, and the firing order with its half and double."""
    chosen = {band.engine_order for band in findings.bands}
    if findings.engine is not None:
        few = {findings.engine.firing_order * factor for factor in (0.5, 1.0, 2.0)}
        chosen |= set(filter(findings.engine.can_have, few))
    return tuple(sorted(chosen))


def _order_line(picture: ColorMap, order: float, dash: str, engine: Engine | None) -> None:
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


def _resonance_line(picture: ColorMap, frequency_hz: float, dash: str) -> None:
    order = 60.0 * frequency_hz / picture.rpm
    inside = order <= picture.up.max()
    if not inside.any():
        return
    rpm, order, name = picture.rpm[inside], order[inside], words.hertz(frequency_hz)
    picture.line(rpm, order, name=name, dash=dash)
    picture.label(rpm[0], order[0], name, xanchor="left", xshift=4, yanchor="bottom", yshift=2)
