"""The drawing of the whole exhaust: to scale along and across, and a file that stands alone."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from analysis.build.drawing.whole_exhaust import exhaust_svg
from analysis.describe.stretches import courses_of
from analysis.exhaust.car import parse_car, read_car
from tests.command_line import CAR

SVG = "{http://www.w3.org/2000/svg}"


def corners(polygon: ElementTree.Element) -> list[tuple[float, float]]:
    numbers = [float(number) for number in polygon.attrib["points"].split()]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def size(polygon: ElementTree.Element) -> tuple[float, float]:
    across, up = zip(*corners(polygon), strict=True)
    return max(across) - min(across), max(up) - min(up)


def test_every_piece_is_drawn_to_one_scale_both_ways() -> None:
    """Read back from the file: sizes on paper over those of the car file."""
    car = read_car(Path(CAR))
    text = exhaust_svg(courses_of(car), "car.toml")
    pieces = list(ElementTree.fromstring(text).iter(f"{SVG}polygon"))[: len(car.sections)]
    scales = [
        on_paper / in_metres
        for polygon, section in zip(pieces, car.sections, strict=True)
        for on_paper, in_metres in zip(
            size(polygon), (section.length_m, section.inner_diameter_m), strict=True
        )
    ]
    assert scales == pytest.approx([scales[0]] * len(scales), rel=0.01)
    told = re.search(r"1 : (\d+)", text)
    assert told is not None
    # 72 points to the inch, by definition
    assert 1.0 / (scales[0] * 0.0254 / 72.0) == pytest.approx(float(told[1]), rel=0.03)
    ends = [max(x for x, _ in corners(polygon)) for polygon in pieces]
    starts = [min(x for x, _ in corners(polygon)) for polygon in pieces]
    assert starts[1:] == pytest.approx(ends[:-1])


def test_the_file_needs_no_page_around_it() -> None:
    text = exhaust_svg(courses_of(read_car(Path(CAR))), "car.toml")
    assert "currentColor" not in text
    assert "var(" not in text
    for total in ("1600 mm (63 in)", "2050 mm (80 11/16 in)", "4020 mm (158 1/4 in)"):
        assert total in text


def test_every_pipe_is_drawn_and_names_are_no_markup() -> None:
    piece = {"kind": "pipe", "length": "1.6 m", "inner_diameter": "60.2 mm"}
    legs = [
        {"name": '<left> & "front"', "from": "bank 1", "section": [piece]},
        {"name": "right", "from": "bank 2", "section": [piece, {**piece, "length": "0.1 m"}]},
    ]
    car = parse_car({"engine": {"cylinders": 8}, "exhaust": {"leg": legs}})
    drawing = ElementTree.fromstring(exhaust_svg(courses_of(car), "a & b"))
    assert len(list(drawing.iter(f"{SVG}polygon"))) == 3
    words = [each.text for each in drawing.iter(f"{SVG}text")]
    assert '<left> & "front", from bank 1' in words
