"""An exhaust with more than one pipe in the car file, and what can be sized of it."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tomllib

import numpy as np
import pytest

from analysis.errors import CarError, SizingError
from analysis.exhaust.car import Car, parse_car
from analysis.exhaust.layout import lay_out
from analysis.exhaust.line import ExhaustLine, cut, on_pipe
from analysis.exhaust.pipes import doubts_of_pipes, exhaust_line
from analysis.exhaust.stations import names_at, stations_at

TWO_PIPES = """
[engine]
cylinders = 8
layout = "cross-plane V"
firing_order = [1, 5, 4, 2, 6, 3, 7, 8]
banks = [[1, 2, 3, 4], [5, 6, 7, 8]]

[[exhaust.leg]]
name = "left"
from = "bank 1"
[[exhaust.leg.section]]
kind = "pipe"
length = "1.70 m"
inner_diameter = "54.1 mm"
[[exhaust.leg.section]]
kind = "muffler"
length = "0.45 m"
inner_diameter = "180 mm"

[[exhaust.leg]]
name = "right"
from = "bank 2"
like = "left"

[[exhaust.link]]
kind = "balance pipe"
between = ["left", "right"]
at = ["0.9 m", "0.8 m"]
length = "0.25 m"
inner_diameter = "50 mm"

[[room.place]]
leg = "left"
from = "0.3 m"
to = "1.6 m"

[[room.place]]
leg = "right"
from = "0 m"
to = "1.2 m"
"""
SECTION = """
[[exhaust.leg.section]]
kind = "pipe"
length = "2.00 m"
inner_diameter = "54.1 mm"
"""
LINK = TWO_PIPES[TWO_PIPES.index("[[exhaust.link]]") : TWO_PIPES.index("[[room.place]]")]


def car_of(text: str) -> Car:
    return parse_car(tomllib.loads(text))


def test_two_pipes_and_a_balance_pipe_are_read() -> None:
    car = car_of(TWO_PIPES)
    left, right = car.legs
    assert (left.name, left.fed_by, right.fed_by) == ("left", ("bank 1",), ("bank 2",))
    assert left.length_m == pytest.approx(2.15)
    assert right.sections == left.sections
    (link,) = car.links
    assert (link.kind, link.between, link.at_m) == ("balance pipe", ("left", "right"), (0.9, 0.8))
    assert link.length_m == pytest.approx(0.25)
    assert [place.span_m for place in car.leg_places] == [(0.3, 1.6), (0.0, 1.2)]
    assert car.firing_order == (1, 5, 4, 2, 6, 3, 7, 8)
    assert car.banks == ((1, 2, 3, 4), (5, 6, 7, 8))


def test_a_pipe_alone_behind_another_goes_on_from_its_last_piece() -> None:
    """Two banks meet in one pipe, which goes on in another: only there is one piece before."""
    met = TWO_PIPES.partition("[[exhaust.link]]")[0].replace('like = "left"', SECTION[1:])
    for name, fed_by in (("both", '["left", "right"]'), ("tail", '"both"')):
        met += f'[[exhaust.leg]]\nname = "{name}"\nfrom = {fed_by}\n{SECTION}'
    line = exhaust_line(car_of(met))
    assert line is not None
    layout = lay_out(cut(line, 0.3))
    of_pipe = [int(np.flatnonzero(layout.pieces.pipe == number)[0]) for number in range(4)]
    assert layout.before[of_pipe].tolist() == [-1, -1, -1, of_pipe[3] - 1]


def test_an_x_has_no_size() -> None:
    x = LINK.replace('"balance pipe"', '"x"')
    short = x.replace('length = "0.25 m"\n', "").replace('inner_diameter = "50 mm"\n', "")
    assert car_of(TWO_PIPES.replace(LINK, short)).links[0].length_m is None
    with pytest.raises(CarError, match=r"unknown key 'length' in link 1 .*kind 'x'"):
        car_of(TWO_PIPES.replace(LINK, x))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('name = "left"', "", "leg 1 .*needs a name"),
        ('name = "left"', 'name = "bank 1"', "leg 1 .*needs a name"),
        ('name = "left"', 'name = "\\u001b[31m"', "leg 1 .*needs a name"),
        ('name = "left"', f'name = "{"l" * 41}"', "leg 1 .*needs a name"),
        ('name = "right"', 'name = "left"', "two legs are named 'left'"),
        ('from = "bank 2"', 'from = "bonk 2"', "from of leg 'right' must be"),
        ('from = "bank 2"', 'from = ["left", "left"]', "from of leg 'right' must name each"),
        ('from = "bank 1"', "", "from of leg 'left' must be"),
        ('like = "left"', 'like = "lft"', "like of leg 'right' must be the name"),
        ('like = "left"', "", "leg 'right' needs either sections"),
        ('like = "left"', "section = []", "leg 'right' has no sections"),
        ('like = "left"', 'lik = "left"', "unknown key 'lik' in leg 'right'; did you mean like"),
        (
            'length = "1.70 m"',
            "",
            "section 1 of leg 'left' of .*exhaust.leg.section.* lacks length",
        ),
        ('length = "1.70 m"', 'length = "170 m"', "section 1 of leg 'left': length '170 m'"),
        ('kind = "balance pipe"', 'kind = "h"', "link 1 .*needs kind = 'x' or 'balance pipe'"),
        ('["0.9 m", "0.8 m"]', '["0.9 m", "2.8 m"]', "link 1 reaches 2.800 m along leg 'right'"),
        ('["left", "right"]', '["left", "left"]', "between of link 1 must be two legs"),
        ('inner_diameter = "50 mm"', "", "link 1 .*lacks inner_diameter"),
        ('leg = "right"', 'leg = "rear"', "leg of place 2 .*must be the name of a leg"),
        ('to = "1.6 m"', 'to = "2.6 m"', "place 1 .*reaches 2.600 m along leg 'left'"),
        ('to = "1.6 m"', 'to = "0.2 m"', "place 1 .*'left', must end after it starts"),
        ('"cross-plane V"', '"crossplane"', "layout must be one of inline"),
        ("[1, 5, 4, 2,", "[1, 5, 4, 4,", "firing_order must name each of cylinders 1 to 8 once"),
        ("[5, 6, 7, 8]]", "[5, 6, 7]]", "banks must name each of cylinders 1 to 8 once"),
        ("[[room.place]]", '[room]\nplaces = [["0.1 m", "1 m"]]\n[[room.place]]', "in legs and as"),
    ],
)
def test_each_mistake_names_its_leg_in_one_line(old: str, new: str, says: str) -> None:
    assert old in TWO_PIPES
    with pytest.raises(CarError, match=says) as caught:
        car_of(TWO_PIPES.replace(old, new, 1))
    assert "\n" not in str(caught.value)


def line_of(text: str) -> ExhaustLine:
    line = exhaust_line(car_of(text))
    assert line is not None
    return line


ALIKE = TWO_PIPES.replace('at = ["0.9 m", "0.8 m"]', 'at = ["0.9 m", "0.91 m"]')
REAR = """
[[exhaust.leg]]
name = "rear"
from = ["left", "right"]
[[exhaust.leg.section]]
kind = "pipe"
length = "1.2 m"
inner_diameter = "66 mm"
"""


def test_two_pipes_alike_mirror_each_other() -> None:
    line = line_of(ALIKE)
    assert [pipe.twin for pipe in line.pipes] == [None, 0]
    assert [pipe.source for pipe in line.pipes] == [0, 1]
    assert names_at(line, 0) == ("left", "right")
    assert [pipe.places_m for pipe in line.pipes] == [((0.3, 1.2),)] * 2  # room that both have
    only_left = ALIKE[: ALIKE.rindex("[[room.place]]")]
    assert [pipe.places_m for pipe in line_of(only_left).pipes] == [((0.3, 1.6),)] * 2


@pytest.mark.parametrize(
    "text",
    [
        TWO_PIPES,  # joined at unlike places
        TWO_PIPES.replace(LINK, "").replace('like = "left"', SECTION),
        ALIKE + REAR.replace('["left", "right"]', '"left"'),  # only one goes on
    ],
)
def test_unlike_pipes_do_not(text: str) -> None:
    assert {pipe.twin for pipe in line_of(text).pipes} == {None}


def of_length(length: str) -> str:
    """Two pipes from their banks to open air, the right one as long as told."""
    alone = TWO_PIPES[: TWO_PIPES.index("[[room.place]]")].replace(LINK, "")
    left = alone[alone.index("[[exhaust.leg.section]]") : alone.rindex("[[exhaust.leg]]")]
    return alone.replace('like = "left"', left.replace('"1.70 m"', f'"{length}"'))


@pytest.mark.parametrize(
    ("length", "beside"),
    [("1.85 m", [None, 0]), ("2.2 m", [None, None])],
)
def test_pipes_nearly_as_long_get_the_same_branches_and_keep_their_lengths(
    length: str, beside: list[int | None]
) -> None:
    line = line_of(of_length(length))
    assert [pipe.beside for pipe in line.pipes] == beside
    assert {pipe.twin for pipe in line.pipes} == {None}
    assert line.pipes[1].sections != line.pipes[0].sections
    pieces = cut(line, 0.04)
    stations = stations_at(pieces, on_pipe(pieces).tolist())
    assert {len(each) for each in stations.places} == ({2} if beside[1] == 0 else {1})
    at_m = pieces.position_m[stations.piece]
    for each in stations.places:
        assert np.ptp(at_m[list(each)]) < 0.04


def test_pipes_that_meet_in_one_are_still_alike() -> None:
    line = line_of(ALIKE + REAR)
    assert [pipe.twin for pipe in line.pipes] == [None, 0, None]
    assert line.pipes[2].feeds == (0, 1)
    assert line.open_pipes == (2,)


def test_one_leg_is_one_pipe() -> None:
    one = TWO_PIPES[: TWO_PIPES.index('[[exhaust.leg]]\nname = "right"')]
    car = car_of(one.replace('"bank 1"', '"all"'))
    line = exhaust_line(car)
    assert line is not None
    assert [pipe.name for pipe in line.pipes] == [None]
    assert doubts_of_pipes(car) == ()


def test_pipes_alike_that_share_no_room_are_refused() -> None:
    with pytest.raises(SizingError, match="share no place"):
        exhaust_line(car_of(ALIKE.replace('to = "1.2 m"', 'to = "0.2 m"')))


@pytest.mark.parametrize(
    ("engine", "asks"),
    [
        ({"cylinders": 8}, True),
        ({"cylinders": 6}, False),
        ({"cylinders": 6, "layout": "V (even fire)"}, True),
        ({"cylinders": 8, "layout": "inline"}, False),
        ({"cylinders": 4, "banks": [[1, 2], [3, 4]]}, True),
    ],
)
def test_two_banks_and_no_word_of_pipes_is_a_question(
    engine: dict[str, object], asks: bool
) -> None:
    codes = [doubt.code for doubt in doubts_of_pipes(parse_car({"engine": engine}))]
    assert codes == (["how_many_pipes"] if asks else [])
