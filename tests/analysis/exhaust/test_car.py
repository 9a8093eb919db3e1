"""The car file: what it says, and every wrong word named."""
# SPDX-License-Identifier: GPL-2.0-or-later

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.errors import CarError
from analysis.exhaust.car import Car, parse_car, read_car
from analysis.exhaust.sections import KINDS, MUFFLERS
from analysis.words.mufflers import LOOKS

WHOLE = """
[engine]
cylinders = 6
stroke_cycle = 4
driving_range_rpm = [1200, 3600]

[exhaust]
inlet_gas_temperature  = "450 degC"
outlet_gas_temperature = "180..220 degC"
branch_gas_temperature = "140 degC"

[[exhaust.section]]
kind = "pipe"
length = "2.27 m"
inner_diameter = "47.7 mm"

[[exhaust.section]]
kind = "chamber"
length = "20 in"
inner_diameter = "6 in"

[[exhaust.section]]
kind = "pipe"
length = "1.3 m"
inner_diameter = "47.7 mm"

[room]
places = [["0 m", "2.2 m"], ["2.9 m", "4.0 m"]]
longest_branch = "1.1 m"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "car.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_whole_car(tmp_path: Path) -> None:
    car = read_car(write(tmp_path, WHOLE))
    assert (car.engine.cylinders, car.engine.stroke_cycle, car.engine.firing_order) == (6, 4, 3.0)
    assert car.driving_range_rpm == (1200.0, 3600.0)
    assert car.inlet_gas_k is not None
    assert car.inlet_gas_k.low == pytest.approx(723.15)
    assert car.outlet_gas_k is not None
    assert car.outlet_gas_k.high == pytest.approx(493.15)
    assert car.branch_gas_k is not None
    assert car.branch_gas_k.low == pytest.approx(413.15)
    assert [section.kind.takes_branch for section in car.sections] == [True, False, True]
    assert car.sections[0].inner_diameter_m == pytest.approx(0.0477)
    assert car.pipe_length_m == pytest.approx(2.27 + 0.508 + 1.3)
    assert car.places_m == ((0.0, 2.2), (2.9, 4.0))
    assert car.longest_branch_m == pytest.approx(1.1)


def test_the_room_beside_the_pipe_is_told_once(tmp_path: Path) -> None:
    assert read_car(write(tmp_path, WHOLE)).beside_m is None
    car = read_car(write(tmp_path, f'{WHOLE}beside = "10 in"\n'))
    assert car.beside_m == pytest.approx(0.254)
    with pytest.raises(CarError, match="beside is '25 m'"):
        read_car(write(tmp_path, f'{WHOLE}beside = "25 m"\n'))


def with_muffler(tmp_path: Path, words: str) -> Car:
    assert WHOLE.count('kind = "chamber"') == 1
    return read_car(write(tmp_path, WHOLE.replace('kind = "chamber"', words)))


def test_a_muffler_without_a_type_may_be_any(tmp_path: Path) -> None:
    untold = with_muffler(tmp_path, 'kind = "muffler"')
    assert untold == with_muffler(tmp_path, 'kind = "muffler"\ntype = "unknown"')
    assert untold.sections[1].kind.name == "unknown muffler"
    assert len(untold.sections[1].kind.builds) > len(MUFFLERS["chambered"].builds)


@pytest.mark.parametrize("kind", MUFFLERS)
def test_types_of_mufflers_are_read(tmp_path: Path, kind: str) -> None:
    car = with_muffler(tmp_path, f'kind = "muffler"\ntype = "{kind}"')
    assert car.sections[1].kind is MUFFLERS[kind]
    assert kind in LOOKS


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ('kind = "silencer"', "for 'silencer' write kind = \"muffler\""),
        ('kind = "cat"', "for 'cat' write kind = \"catalyst\""),
        ('kind = "glasspack"', 'kind = "muffler" with type = "straight-through"'),
        ('kind = "resonator"', 'kind = "muffler" with type = "resonator"'),
        ('kind = "muffler"\ntype = "turbo muffler"', 'with type = "three-pass"'),
        ('kind = "muffler"\ntype = "loud"', "a lamp at one end shines"),
        ('kind = "muffler"\ntype = 3', "must be 'straight-through'"),
        ('kind = "chamber"\ntype = "three-pass"', 'only kind = "muffler" has one'),
    ],
)
def test_other_words_for_mufflers_are_told_ours(tmp_path: Path, words: str, says: str) -> None:
    with pytest.raises(CarError) as caught:
        with_muffler(tmp_path, words)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_shell_as_wide_as_its_pipe_is_refused(tmp_path: Path) -> None:
    narrow = WHOLE.replace('kind = "chamber"', 'kind = "muffler"')
    narrow = re.sub(r'(kind = "muffler"[^[]*inner_diameter = )"[^"]*"', r'\1"50 mm"', narrow)
    with pytest.raises(CarError, match="section 2 is a muffler no wider than the pipe beside it"):
        read_car(write(tmp_path, narrow))


def test_a_chamber_narrower_than_its_pipe_is_refused(tmp_path: Path) -> None:
    assert WHOLE.count('"6 in"') == 1
    with pytest.raises(CarError, match="no wider"):
        read_car(write(tmp_path, WHOLE.replace('"6 in"', '"20 mm"')))


@pytest.mark.parametrize("wall", ["0.065 in", "16 gauge", "16 ga"])
def test_a_width_may_be_told_by_the_outside(tmp_path: Path, wall: str) -> None:
    """Two walls less; without them, those that are usual for pipe and for shells."""
    told = WHOLE.replace('inner_diameter = "6 in"', 'outside_diameter = "6 in"')
    pipe = f'outside_diameter = "2.5 in"\nwall = "{wall}"'
    told = told.replace('inner_diameter = "47.7 mm"', pipe, 1)
    told = told.replace('inner_diameter = "47.7 mm"', 'outside_diameter = "50 mm"', 1)
    widths_m = [section.inner_diameter_m for section in read_car(write(tmp_path, told)).sections]
    assert widths_m == pytest.approx([0.060198, 0.1494, 0.0468])  # 2.37 in, 6 in less 3 mm


def test_the_engine_alone_is_enough() -> None:
    car = parse_car({"engine": {"cylinders": 4}})
    assert car.engine.stroke_cycle == 4
    assert car.sections == ()
    assert car.places_m == ()
    assert car.driving_range_rpm is None
    assert car.inlet_gas_k is None
    assert car.longest_branch_m is None


def test_a_rotary_engine() -> None:
    """Each rotor fires once in a turn of its shaft (Heywood 1988, from memory)."""
    car = parse_car({"engine": {"rotors": 2}})
    assert (car.engine.firing_order, car.layout) == (2.0, "rotary")


@pytest.mark.parametrize(
    ("engine", "says"),
    [
        ({"rotors": 2, "cylinders": 4}, "in place of cylinders"),
        ({"rotors": 2, "layout": "boxer"}, "has rotors"),
        ({"rotors": 9}, "1 to 6"),
        ({"rotors": "2"}, "rotors = 2"),
        ({"cylinders": 2, "layout": "rotary"}, "rotors = 2"),
    ],
)
def test_rotors_stand_alone(engine: dict[str, object], says: str) -> None:
    with pytest.raises(CarError, match=says):
        parse_car({"engine": engine})


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("cylinders = 6", "cilinders = 6", "'cilinders' in .engine.; did you mean cylinders"),
        ("cylinders = 6", "", "needs cylinders"),
        ("cylinders = 6", "cylinders = 0", "1 to 16"),
        ("cylinders = 6", "cylinders = true", "1 to 16"),
        ("cylinders = 6", "cylinders = 'six'", "1 to 16"),
        ("stroke_cycle = 4", "stroke_cycle = 3", "2 or 4"),
        ("[1200, 3600]", "[3600, 1200]", "must rise"),
        ("[1200, 3600]", "[nan, 3600]", "must rise"),
        ("[1200, 3600]", "1200", "two numbers"),
        ('"450 degC"', "450", "text with a unit"),
        ('"450 degC"', '"450"', "no unit"),
        ('"450 degC"', '"150 degC"', "outlet_gas_temperature is above"),
        ('"450 degC"', '"4500 degC"', "not possible"),
        ('"2.27 m"', '"2,270 mm"', "two ways"),
        ('"2.27 m"', '"99 m"', r"must be 10 mm \(.* in\) to 15000 mm \("),
        ('"47.7 mm"', '"47.7 in"', "check the number and the unit"),
        ('"47.7 mm"', '"47.7 mm"\nwall = "2 mm"', "goes with outside_diameter"),
        ('"47.7 mm"', '"47.7 mm"\noutside_diameter = "51 mm"', "leave one out"),
        ('"47.7 mm"', '"10 mm"', "no car's exhaust is that narrow"),
        ('inner_diameter = "47.7 mm"', 'outside_diameter = "22 mm"', "that narrow within its wall"),
        ('inner_diameter = "6 in"', 'outside_diameter = "11 mm"', "exhaust is that narrow; it"),
        (
            'inner_diameter = "6 in"',
            'outside_diameter = "6 in"\nwall = "9 mm"',
            r"to 6 mm \(1/4 in\)",
        ),
        ('inner_diameter = "6 in"', 'outside_diameter = "6 in"\nwall = "15 ga"', "15 gauge is not"),
        ('inner_diameter = "6 in"', "", "lacks inner_diameter"),
        ('kind = "chamber"', 'kind = "mufler"', " or ".join(map(repr, KINDS))),
        ('kind = "chamber"', "", "lacks kind"),
        ('length = "20 in"', 'lenght = "20 in"', "did you mean length"),
        ('["2.9 m", "4.0 m"]', '["2.9 m", "4.6 m"]', "sections add up to 4.078 m"),
        ('["2.9 m", "4.0 m"]', '["4.0 m", "2.9 m"]', "must end after it starts"),
        ('["2.9 m", "4.0 m"]', '["2.9 m"]', "a start and an end"),
        ('"1.1 m"', '"1.1 mm"', r"must be 50 mm \(.* in\) to 6000 mm \("),
        ("[room]", "[rooms]", "did you mean room"),
        ("[engine]", "engine = 3\n[motor]", "unknown key 'motor'"),
        ("[room]", "[room", r"line 27, .room: write .room."),
    ],
)
def test_each_mistake_is_named_in_one_line(tmp_path: Path, old: str, new: str, says: str) -> None:
    assert old in WHOLE
    with pytest.raises(CarError, match=says) as caught:
        read_car(write(tmp_path, WHOLE.replace(old, new)))
    assert "\n" not in str(caught.value)
    assert "car.toml" in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(CarError, match="cannot read"):
        read_car(tmp_path / "missing.toml")
    with pytest.raises(CarError, match="cannot read"):
        read_car(tmp_path)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(bytes(range(256)))
    with pytest.raises(CarError, match="no text"):
        read_car(binary)
    enormous = tmp_path / "enormous.toml"
    enormous.write_bytes(b"#" * 64_001)
    with pytest.raises(CarError, match="64 kB"):
        read_car(enormous)


_ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=3)
    ),
    max_leaves=8,
)


@settings(max_examples=40)
@given(
    st.fixed_dictionaries(
        {"engine": st.just({"cylinders": 4}) | _ANY},
        optional={
            "exhaust": st.fixed_dictionaries(
                {}, optional={"section": _ANY, "inlet_gas_temperature": _ANY}
            ),
            "room": st.fixed_dictionaries({}, optional={"places": _ANY, "longest_branch": _ANY}),
        },
    )
)
def test_any_content_gives_a_car_or_one_plain_line(data: dict[str, Any]) -> None:
    refusal = ""
    try:
        parse_car(data)
    except CarError as error:
        refusal = str(error)
    assert "\n" not in refusal


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_car_file_is_read_with_the_mark_that_editors_put_in_front(
    tmp_path: Path, encoding: str
) -> None:
    path = tmp_path / "car.toml"
    path.write_text("[engine]\ncylinders = 6\n", encoding=encoding)
    assert read_car(path).engine.cylinders == 6


def test_a_car_file_in_another_encoding_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "car.toml"
    path.write_text('[exhaust]\ninlet_gas_temperature = "450 °C"\n', encoding="cp1252")
    with pytest.raises(CarError, match=r"line 2 .* write degC .* save the file .* in UTF-8$"):
        read_car(path)
