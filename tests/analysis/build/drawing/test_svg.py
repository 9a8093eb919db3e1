"""The picture of a branch as SVG, read back as XML."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.build.drawing.elevation import draw_elevation
from analysis.build.drawing.pen import Area, Pen
from analysis.build.drawing.svg import as_svg
from analysis.build.workshop.folds import Room
from analysis.build.workshop.plan import BuildWishes, plan_build
from tests.analysis.build.rooms import STRAIGHT
from tests.analysis.report.sized_examples import branch, can_branch, sizing

SVG = "{http://www.w3.org/2000/svg}"
AREA = Area(left=0.0, bottom=0.0, right=115.0, top=150.0)
BENT = BuildWishes(room=Room(reach_m=0.20, run_m=0.90))


def drawn(
    length_m: float, *, can: bool, wishes: BuildWishes = STRAIGHT, note: str = ""
) -> ET.Element:
    build = plan_build(sizing(can_branch(length_m) if can else branch(length_m)), wishes)
    pen = Pen()
    draw_elevation(pen, build.branches[0], AREA, room=build.room, notes=(note,) if note else ())
    return ET.fromstring(as_svg(pen.group, AREA, "a <branch>"))


def points(shape: ET.Element) -> NDArray[np.float64]:
    return np.array(shape.attrib["points"].split(), dtype=float).reshape(-1, 2)


def uprights(root: ET.Element) -> list[float]:
    """Lengths of upright dimension lines: solid, in full ink and thinner than the datum."""
    lines = [
        points(line)
        for line in root.iter(f"{SVG}polyline")
        if "stroke-dasharray" not in line.attrib and line.attrib["stroke-opacity"] == "1.00"
    ]
    return sorted(float(np.ptp(line[:, 1])) for line in lines if np.ptp(line[:, 0]) == 0.0)


def pipe_bore(root: ET.Element) -> float:
    """From the datum, the one thick line, down to the pipe's lower wall."""
    datum = max(root.iter(f"{SVG}polyline"), key=lambda line: float(line.attrib["stroke-width"]))
    walls = [points(each) for each in root.iter(f"{SVG}polygon")]
    longest = max(walls, key=lambda wall: float(np.ptp(wall[:, 0])))
    return float(points(datum)[0, 1] - longest[:, 1].max())


def test_a_branch_is_drawn_to_proportion() -> None:
    root = drawn(0.772, can=False)
    (length,) = uprights(root)
    tube_m = 0.93 * 0.772  # of the example: cut for a cap that slides
    assert pipe_bore(root) / length == pytest.approx(0.0602 / tube_m, abs=1e-3)


def test_a_can_is_drawn_to_proportion_with_its_neck() -> None:
    neck, can, whole = uprights(drawn(0.60, can=True))
    can_m = 0.80 * 0.40  # of the example: cut for a cap that slides
    assert neck / whole == pytest.approx(0.20 / (0.20 + can_m), abs=1e-3)
    assert can / whole == pytest.approx(can_m / (0.20 + can_m), abs=1e-3)


@pytest.mark.parametrize("can", [False, True])
@pytest.mark.parametrize("wishes", [STRAIGHT, BENT], ids=["straight", "bent"])
def test_every_shape_and_word_lies_within_the_picture(can: bool, wishes: BuildWishes) -> None:
    root = drawn(0.60, can=can, wishes=wishes)
    width, height = (float(value) for value in root.attrib["viewBox"].split()[2:])
    for name in ("polyline", "polygon"):
        for shape in root.iter(f"{SVG}{name}"):
            assert points(shape).min() >= 0.0
            assert points(shape)[:, 0].max() <= width
            assert points(shape)[:, 1].max() <= height
    words = " | ".join(text.text or "" for text in root.iter(f"{SVG}text"))
    assert "ZERO LINE" in words
    assert "1480 mm" in words


def test_a_tag_stays_text_and_nothing_has_an_id() -> None:
    """Two pictures stand on one page, so that an id would stand there twice."""
    root = drawn(0.772, can=False, note="<script>alert(1)</script>")
    assert root.attrib["aria-label"] == "a <branch>"
    assert "<script>alert(1)</script>" in [text.text for text in root.iter(f"{SVG}text")]
    assert not [each for each in root.iter() if "id" in each.attrib or "script" in each.tag]
