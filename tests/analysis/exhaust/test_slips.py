"""Slips that people make in a car file: each is named in a sentence, with its line and the cure."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import tracemalloc

import pytest

from analysis.errors import CarError
from analysis.exhaust.car import read_car_text

GOOD = """\
[engine]
cylinders = 6
[[exhaust.section]]
kind = "pipe"
length = "1.60 m"
inner_diameter = "60 mm"
[[exhaust.section]]
kind = "muffler"
length = "0.45 m"
inner_diameter = "180 mm"
[room]
places = [["0.3 m", "1.4 m"]]
longest_branch = "1.0 m"
"""
# words of parsers, which nobody in a garage should have to read
JARGON = re.compile(r"TOML|at line|column|statement|Invalid|Expected|declare|array|parse|token")


def refusal(text: str) -> str:
    with pytest.raises(CarError) as caught:
        read_car_text(text.encode())
    said = str(caught.value)
    assert "\n" not in said
    assert len(said) < 300
    assert not JARGON.search(said)
    return said


@pytest.mark.parametrize(
    ("right", "slip", "line", "cure"),
    [
        ('"1.60 m"', "“1.60 m”", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "‘1.60 m’", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "„1.60 m“", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "1.60 m", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "1.60m   # straight", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "1,60", 5, 'length = "1.60 m"'),
        ('"1.60 m"', "1,60 m", 5, 'length = "1.60 m"'),
        ('"1.60 m"', '"1.60 m', 5, 'length = "1.60 m"'),
        ('"1.60 m"', '1.60 m"', 5, 'length = "1.60 m"'),
        ('"1.60 m"', '"1,60"', 5, "'63.5 mm'"),
        ('"1.60 m"', "1600", 5, '"63.5 mm"'),
        ('"1.60 m"', "", 5, "write one, or leave the line out"),
        ('"60 mm"', '2 1/2"', 6, 'inner_diameter = "2 1/2 in"'),
        ('"60 mm"', '"2 1/2""', 6, 'inner_diameter = "2 1/2 in"'),
        ("inner_diameter =", "inner diameter =", 6, 'inner_diameter = "60 mm"'),
        ("inner_diameter =", "diameter =", 6, "did you mean inner_diameter"),
        ("inner_diameter =", "inner-diameter =", 6, "did you mean inner_diameter"),
        ("cylinders = 6", "cylinders: 6", 2, "cylinders = 6"),
        ("cylinders = 6", "cylinders 6", 2, "cylinders = 6"),
        ("cylinders = 6", 'cylinders = "6"', 2, "cylinders = 6"),
        ("cylinders = 6", "cylinders = 06", 2, "cylinders = 6"),
        ("cylinders = 6", "cylinders = 6 cyl.", 2, "cylinders = 6"),
        ("cylinders = 6", "cylinders = six", 2, "cylinders = 4"),
        ("cylinders = 6", "CYLINDERS = 6", 2, "did you mean cylinders"),
        ("[engine]", "[Engine]", 1, "did you mean engine"),
        ("[engine]", "[[engine]]", 1, "[engine]"),
        ("[engine]", "[engine", 1, "[engine]"),
        ("[engine]", "engine:", 1, "[engine]"),
        ("[[exhaust.section]]", "[exhaust.section]", 3, "[[exhaust.section]]"),
        ("[[exhaust.section]]", "[[exhaust section]]", 3, "[[exhaust.section]]"),
        ("[room]", "[engine]\n[room]", 11, "line 1 already"),
        ("[room]", "// where\n[room]", 11, "with #"),
        ("[room]", '[room]\nfile = "C:\\Users\\me.toml"', 12, "backslash"),
        ("kind = ", "kind: ", 4, 'kind = "pipe"'),
        ('"muffler"', "muffler", 8, 'kind = "muffler"'),
        ('"muffler"', '"silencer"', 8, 'kind = "muffler"'),
        ('"muffler"', '"Muffler"', 8, 'write "muffler"'),
        ('["0.3 m", "1.4 m"]]', '["0.3 m", "1.4 m"]', 12, "bracket"),
        ('[["0.3 m", "1.4 m"]]', "[[0.3 m, 1.4 m]]", 12, '[["0.3 m", "1.4 m"]]'),
        ('"1.0 m"', '"1.0 m"\nlongest_branch = "1.1 m"', 14, "line 13 already"),
    ],
)
def test_a_slip_is_named_with_its_line_and_how_to_write_it(
    right: str, slip: str, line: int, cure: str
) -> None:
    assert right in GOOD
    said = refusal(GOOD.replace(right, slip, 1))
    assert said.startswith(f"line {line}")
    assert cure in said


@pytest.mark.parametrize(
    ("right", "other"),
    [
        ('"muffler"', "'muffler'"),
        ("length = ", "\tlength\t=\t"),
        ("\n", "\r\n"),
        ("\n", "\r"),
        ('"1.60 m"', '"1,60 m"'),
        ('"1.60 m"', '"5 ft 3 in"'),
        ('[["0.3 m", "1.4 m"]]', '[\n  ["0.3 m", "1.4 m"],\n]'),
    ],
)
def test_what_is_no_slip_is_read(right: str, other: str) -> None:
    car, _ = read_car_text(GOOD.replace(right, other).encode())
    assert len(car.sections) == 2


@pytest.mark.parametrize(
    "hostile",
    [
        f"a = {'9' * 5000}",
        f"[engine]\ncylinders = 4\ndriving_range_rpm = [900, 1{'0' * 350}]",
        f"a = {'[' * 20_000}",
        "a = [\n" * 10_000,
        ".".join("a" * 20_000) + " = 1",
        "\n".join(f"{'.'.join('a' * 19)}.b{i} = 1" for i in range(1400)),
        "[" + ".".join("a" * 20_000) + "]",
        "[[exhaust.section]]\n" * 3000,
        '[engine]\ncylinders = 4\n[exhaust]\nsection = [{kind = "pipe"}]\nk = """' + "x" * 300,
        "\x00" * 40_000,
        "x" * 70_000,
        "=",
        "[]",
        "\ufeff\ufeff",
        '"',
    ],
)
def test_hostile_files_are_one_line_in_little_memory(hostile: str) -> None:
    """The first of these took the parser gigabytes: names of 20,000 parts."""
    tracemalloc.start()
    try:
        refusal(hostile)
        _, most_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most_bytes < 20e6
