"""Pictures of the whole exhaust: what they hold and what they say."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from analysis.branches import LinePicture, LineSection, PlaceMap, Sizing
from analysis.report.sized.figure_line import line_charts
from analysis.report.sized.recommendation import recommendation_section
from analysis.words.shown import Units, showing
from tests.analysis.report.examples import contents
from tests.analysis.report.found_examples import band, findings
from tests.analysis.report.sized_examples import branch, can_branch, sizing

POSITION_M = np.concatenate([np.arange(0.1, 1.5, 0.04), np.arange(2.1, 3.9, 0.04)])
PRESSURE_DB = 20.0 * np.log10(np.abs(np.cos(2.0 * np.pi * POSITION_M / 3.0)) + 0.05)
LENGTH_M = np.geomspace(0.5, 1.0, 12)


def picture(drone_db: float) -> LinePicture:
    hz = np.linspace(60.0, 180.0, 80)
    level_db = -0.02 * np.abs(hz - 112.0)
    shape = (POSITION_M.size, LENGTH_M.size)
    return LinePicture(
        legs=(),
        sections=(
            LineSection(start_m=0.0, length_m=1.6, inner_diameter_m=0.06),
            LineSection(start_m=1.6, length_m=0.4, inner_diameter_m=0.18),
            LineSection(start_m=2.0, length_m=2.0, inner_diameter_m=0.06),
        ),
        room_m=((0.3, 1.4),),
        position_m=POSITION_M,
        pressure_db=PRESSURE_DB,
        pressure_low_db=PRESSURE_DB - 2.0,
        pressure_high_db=PRESSURE_DB + 1.0,
        places=PlaceMap(
            position_m=POSITION_M,
            has_room=POSITION_M < 1.4,
            length_m=LENGTH_M,
            drone_db=np.full(shape, drone_db),
            elsewhere_db=np.where(LENGTH_M < 0.6, 5.0, 0.0) * np.ones(shape),
        ),
        frequency_hz=hz,
        measured_db=level_db,
        modelled_db=np.stack([level_db - 1.0, level_db + 0.5, level_db + 2.0]),
    )


def with_line(drone_db: float = -15.0, **changed: object) -> Sizing:
    made = replace(picture(drone_db), **changed)  # type: ignore[arg-type]
    return replace(sizing(branch(position_m=0.9)), line=made)


def test_without_sections_there_is_no_picture() -> None:
    assert line_charts(sizing()) == ()


def test_pressure_is_told_where_the_branch_goes() -> None:
    line, _, _ = line_charts(with_line())
    expected = -float(PRESSURE_DB[np.abs(POSITION_M - 0.9).argmin()])
    assert f"the pressure is {expected:.0f} dB below the highest" in line.summary
    drawn = [shape for shape in line.figure.layout.shapes if shape.type == "rect"]
    ends = {(shape.x0, shape.x1) for shape in drawn}
    assert (1.6, 2.0) in ends  # the muffler, to scale
    assert (0.3, 1.4) in ends  # the room
    curve = np.asarray(line.figure.data[1].y)
    assert np.isnan(curve).sum() == 1  # no line through the muffler


def test_the_map_says_how_much_of_the_room_would_do() -> None:
    _, places, _ = line_charts(with_line())
    share = 100.0 * float((LENGTH_M >= 0.6).mean())
    assert f"in the room, {share:.0f} % would cure it" in places.summary
    crosses = places.figure.data[1]
    assert max(crosses.y) < 0.6
    _, none, _ = line_charts(with_line(-5.0))
    assert "No single branch in the room" in none.summary


def test_model_against_drive() -> None:
    *_, model = line_charts(with_line())
    assert "They differ by 0.5 dB" in model.summary
    assert len(line_charts(with_line(measured_db=None, modelled_db=None))) == 2


@pytest.mark.parametrize("room_m", [(), ((0.3, 1.4), (2.2, 3.7))])
def test_every_trace_reads_out_units_and_the_section_holds_all(
    room_m: tuple[tuple[float, float], ...],
) -> None:
    sized = with_line(room_m=room_m)
    for chart in line_charts(sized):
        assert chart.summary.endswith(".")
        for trace in chart.figure.data:
            assert "dB" in trace.hovertemplate
    section = recommendation_section(contents(findings(band()), sized))
    names = [block.name for block in section.blocks if hasattr(block, "name")]
    assert [name for name in names if name in ("line", "places", "model")] == [
        "line",
        "places",
        "model",
    ]


def test_a_can_is_wider_than_its_neck_and_as_long_as_it_is() -> None:
    one = can_branch(0.60, position_m=0.9)
    line, _, _ = line_charts(replace(sizing(one), line=picture(-15.0)))
    boxes = [
        shape
        for shape in line.figure.layout.shapes
        if shape.type == "rect" and shape.x0 < 0.9 < shape.x1 and shape.x1 - shape.x0 < 0.2
    ]
    neck, can = sorted(boxes, key=lambda box: box.y0)
    assert one.can is not None
    assert neck.x1 - neck.x0 == pytest.approx(one.tube.inner_diameter_m)
    assert can.x1 - can.x0 == pytest.approx(one.can.tube.inner_diameter_m)
    assert can.y0 == pytest.approx(neck.y1)
    assert (can.y1 - can.y0) / (neck.y1 - neck.y0) == pytest.approx(0.40 / 0.20)


@pytest.mark.parametrize(
    ("units", "place"), [(Units.INCH, r"at \d+ in,"), (Units.METRIC, r"at [\d.]+ m")]
)
def test_the_place_of_a_branch_is_in_the_units_shown(units: Units, place: str) -> None:
    with showing(units):
        line, _, _ = line_charts(with_line())
    assert re.search(place, line.summary)
