"""Two drones of one order: planned for together, each with its own promise."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import json
import tomllib
from dataclasses import dataclass, replace

import jsonschema
import numpy as np
import pytest
from rich.console import Console

from analysis.answers.sizing_document import sizing_document
from analysis.branches import Sizing
from analysis.compare.trim.built import sized_branches
from analysis.exhaust.car import parse_car
from analysis.report.answer import build_sentence
from analysis.size.request import SizingRequest
from analysis.size.size import size_branches
from logger.command.tables.size import short_text
from tests.benchmarks.garage import request_of
from tests.garage.drone import Change, Drone
from tests.result_schemas import result_schema
from tests.worlds.cars import Welded, WorldCar
from tests.worlds.draw import WORLDS, changes, droning_car, measure
from tests.worlds.told import Told, tell, true_place

WORLD = next(world for world in WORLDS if world.name == "two drones")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A car that drones at 2,880 and at 1,790 rpm, as it truly is, and what is asked for it."""

    car: WorldCar
    heard: tuple[Drone, ...]
    told: Told
    request: SizingRequest

    def built(self, sizing: Sizing) -> tuple[Change, ...]:
        """What becomes of each drone with the branches on."""
        welded = tuple(
            Welded(
                leg="pipe",
                place_m=true_place(self.car, self.told, branch.position_m or 0.0, None)[1],
                length_m=branch.length_m,
                bore_m=branch.tube.inner_diameter_m,
            )
            for branch in sizing.branches
        )
        return changes(self.car, self.heard, welded)


@pytest.fixture(scope="module")
def case() -> Case:
    rng = np.random.default_rng([91, 30002, *WORLD.name.encode()])
    car, heard = droning_car(WORLD, rng)
    told = tell(car, WORLD, rng)
    measured = measure(car, heard, rng)
    assert measured is not None
    request = request_of(measured, parse_car(tomllib.loads(told.whole)))
    return Case(car=car, heard=heard, told=told, request=request)


@pytest.fixture(scope="module")
def both(case: Case) -> Sizing:
    """Three seconds, as any sizing on a whole exhaust."""
    return size_branches(case.request)


def test_both_are_cured_and_each_does_as_foretold(case: Case, both: Sizing) -> None:
    """The true car is a dense network of its own, which shares nothing with the sizing."""
    (other,) = both.others
    assert other.is_planned_for
    done = case.built(both)
    assert all(each.is_cured for each in done)
    for each, predicted in zip(done, (both.predicted, other.predicted), strict=True):
        span = predicted.level_change_db_range
        assert span.low <= each.drone_db <= span.high


def test_each_is_told(both: Sizing) -> None:
    console = Console(file=io.StringIO(), width=100)
    console.print(short_text(both))
    assert isinstance(console.file, io.StringIO)
    text = console.file.getvalue()
    assert len(text.splitlines()) <= 15
    assert "At 2,880 rpm  144.2 Hz: " in text
    assert "At 1,790 rpm  89.4 Hz: " in text
    assert "drones" in build_sentence(both)
    assert "at 1,790 rpm" in build_sentence(both)
    document = json.loads(json.dumps(sizing_document(both), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    assert [drone["planned_for"] for drone in document["other_drones"]] == [True]
    assert sized_branches(both).is_for_several


def test_where_no_plan_cures_both_it_is_for_the_worst_and_says_so(case: Case) -> None:
    """No plain branch of 0.62 m reaches 89 Hz. Three seconds more: another room, so sized anew."""
    short = replace(case.request, longest_branch_m=0.62, cans=False)
    sizing = size_branches(short)
    (other,) = sizing.others
    assert not other.is_planned_for
    assert other.predicted.level_change_db > -10.0
    (left,) = (doubt for doubt in sizing.warnings if doubt.code == "drone_left")
    assert "1,790 rpm" in left.message
    (plan,) = (each for each in sizing.plans if each.is_chosen)
    assert plan.cured_adjusted_share >= 0.5
    assert not sized_branches(sizing).is_for_several


def test_without_the_exhaust_the_other_is_said_to_be_left(case: Case) -> None:
    sizing = size_branches(replace(case.request, line=None))
    assert sizing.others == ()
    assert "drone_left" in {doubt.code for doubt in sizing.warnings}
