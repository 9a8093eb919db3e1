"""Two pipes alike: what one pipe is told holds for both, and every branch to weld is listed."""
# SPDX-License-Identifier: GPL-2.0-or-later

import io
import json
import re
import tomllib
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from rich.console import Console

from analysis.answers.sizing_document import sizing_document
from analysis.branches import Sizing
from analysis.exhaust.car import parse_car
from analysis.size.size import size_branches
from logger.command.tables.size import size_text
from tests.analysis.report.sized_examples import sizing
from tests.benchmarks.garage import request_of
from tests.garage.drone import Drone
from tests.result_schemas import result_schema
from tests.worlds.cars import Welded, WorldCar
from tests.worlds.draw import WORLDS, changes, droning_car, measure
from tests.worlds.told import Told, tell, true_place


def on_each() -> Sizing:
    """One branch, on each of two pipes."""
    one = sizing()
    return replace(one, branches=(replace(one.branches[0], legs=("left", "right")),))


def test_a_pair_on_two_pipes_is_listed_as_two() -> None:
    both = on_each()
    document = json.loads(json.dumps(sizing_document(both), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    assert [branch["leg"] for branch in document["branches"]] == ["left", "right"]
    assert len({branch["position_mm"] for branch in document["branches"]}) == 1
    alone = json.loads(json.dumps(sizing_document(sizing()), allow_nan=False))
    assert [branch["leg"] for branch in alone["branches"]] == [None]


def test_the_screen_says_one_on_each() -> None:
    both = on_each()
    console = Console(file=io.StringIO(), width=300)
    console.print(size_text(both))
    assert isinstance(console.file, io.StringIO)
    assert "one on each pipe (left and right)" in console.file.getvalue()


@pytest.fixture(scope="module")
def crossed() -> tuple[WorldCar, tuple[Drone, ...], Told, Sizing]:
    """A V8 with an X, sized from its car file and drive; five seconds, but all ways of linked pipes
    in one: nodes, banks, twins, determinants of two and four branches."""
    world = next(world for world in WORLDS if world.shape == "x")
    rng = np.random.default_rng([91, 0, *world.name.encode()])
    car, heard = droning_car(world, rng)
    told = tell(car, world, rng)
    measured = measure(car, heard, rng)
    assert measured is not None
    known = parse_car(tomllib.loads(told.whole))
    return car, heard, told, size_branches(request_of(measured, known))


def test_a_v8_with_an_x_is_cured_in_one_build_with_the_same_on_each_pipe(
    crossed: tuple[WorldCar, tuple[Drone, ...], Told, Sizing],
) -> None:
    """The true car is a dense network of its own, which shares nothing with the sizing."""
    car, heard, told, made = crossed
    assert {branch.legs for branch in made.branches} == {("left", "right")}
    welded = tuple(
        Welded(
            leg=leg,
            place_m=true_place(car, told, branch.position_m or 0.0, leg)[1],
            length_m=branch.length_m,
            bore_m=branch.tube.inner_diameter_m,
        )
        for branch in made.branches
        for leg in branch.legs
    )
    (done,) = changes(car, heard, welded)
    assert done.is_cured
    span = made.predicted.level_change_db_range
    assert span.low <= done.drone_db <= span.high
    (alone,) = changes(car, heard, welded[::2])
    assert alone.drone_db > done.drone_db + 3.0  # on one pipe of two


def test_each_pipe_is_told_and_the_material_counted(
    crossed: tuple[WorldCar, tuple[Drone, ...], Told, Sizing],
) -> None:
    made = crossed[3]
    document = json.loads(json.dumps(sizing_document(made), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    legs = [branch["leg"] for branch in document["branches"]]
    assert legs == ["left"] * len(made.branches) + ["right"] * len(made.branches)
    (doubt,) = (doubt for doubt in made.warnings if doubt.code == "one_on_each_pipe")
    assert re.match("Build (it|those) twice, one on each pipe: one on the left pipe", doubt.message)
    assert made.line is not None
    assert made.line.legs == ("left", "right")
    (link,) = parse_car(tomllib.loads(crossed[2].whole)).links
    ((at_m, what),) = made.line.crossings
    assert at_m == pytest.approx(link.at_m[0], abs=1e-3)
    assert what == "X"
    assert made.line.goes_into == ()
