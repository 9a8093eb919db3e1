"""Sizing on the whole exhaust, tried on random cars whose physics it does not know."""
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
from analysis.branches import Sizing, Target
from analysis.errors import SizingError
from analysis.exhaust.car import parse_car
from analysis.size.request import OrderLevels, SizingRequest, with_car
from analysis.size.size import size_branches
from logger.command.tables.size import size_text
from tests.garage.draw import Told, droning_car, tell, true_place_m
from tests.garage.drone import Change, Drone, change, measure
from tests.garage.spec import TrueCar, Welded
from tests.result_schemas import result_schema


@dataclass(frozen=True)
class Sized:
    car: TrueCar
    heard: Drone
    told: Told
    request: SizingRequest
    sizing: Sizing
    parts_done: tuple[float, ...]

    def built(self) -> Change:
        """Weld onto the true car what the sizing says."""
        welded = tuple(
            Welded(
                place_m=true_place_m(self.car, self.told, branch.position_m or 0.0),
                length_m=branch.length_m,
                bore_m=branch.tube.inner_diameter_m,
                can_bore_m=None if branch.can is None else branch.can.tube.inner_diameter_m,
                neck_m=0.0 if branch.can is None else branch.can.neck_m,
            )
            for branch in self.sizing.branches
        )
        return change(self.car, self.heard, welded)


def size_car(
    seed: int, *, tight: bool, count: int | None = None, widest: str | None = None
) -> Sized:
    rng = np.random.default_rng([83, seed, tight])
    car, heard = droning_car(rng)
    told = tell(car, rng, tight=tight)
    measured = measure(car, heard, rng)
    assert measured is not None
    peak, low, high = (
        car.order * rpm / 60.0
        for rpm in (measured.drone.peak_rpm, measured.drone.low_rpm, measured.drone.high_rpm)
    )
    request = with_car(
        SizingRequest(
            target=Target(engine_order=car.order, peak_hz=peak, low_hz=low, high_hz=high),
            levels=OrderLevels(rpm=measured.rpm, level_db=measured.level_db),
            branch_count=count,
        ),
        parse_car(tomllib.loads(told.text + (f'\nwidest_branch = "{widest}"' if widest else ""))),
    )
    parts_done: list[float] = []
    sizing = size_branches(request, progress=parts_done.append)
    return Sized(car, heard, told, request, sizing, tuple(parts_done))


@pytest.fixture(scope="module")
def curable() -> Sized:
    """Room everywhere, drone at 140 Hz."""
    return size_car(4, tight=False)


@pytest.fixture(scope="module")
def hopeless() -> Sized:
    """Half the pipe closed, no branch over 0.8 m, drone at 57 Hz: a quarter wave is 1.6 m."""
    return size_car(0, tight=True, count=2, widest="65 mm")


@pytest.fixture(scope="module")
def canned() -> Sized:
    """No plain branch of 0.8 m cures its 74 Hz; there is room for a can."""
    return size_car(14, tight=True, count=2)


def test_a_car_it_has_never_seen_is_cured_in_one_build(curable: Sized) -> None:
    done = curable.built()
    assert done.is_cured
    span = curable.sizing.predicted.level_change_db_range
    assert span.low <= done.drone_db <= span.high
    assert not {"place_unknown", "no_cure_in_room"} & {w.code for w in curable.sizing.warnings}


def test_a_cure_that_one_adjustment_makes_likely_is_the_plans_own_line_and_no_doubt(
    canned: Sized,
) -> None:
    """One branch of the car above: half of the cases at once, nearly all after the adjustment."""
    sizing = size_car(4, tight=False, count=1).sizing
    (plan,) = (each for each in sizing.plans if each.is_chosen)
    assert plan.cured_now_share < 0.9 <= plan.cured_adjusted_share
    assert sizing.doubts == ()
    assert any(gain.startswith("A cure at once comes in") for gain in sizing.gains)
    (plan,) = (each for each in canned.sizing.plans if each.is_chosen)
    assert 0.75 <= plan.cured_adjusted_share < 0.9
    assert canned.sizing.doubts == ()


def test_odds_that_one_adjustment_leaves_poor_are_a_doubt(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same car, with its odds counted among the poor ones."""
    monkeypatch.setattr("analysis.size.exhaust_advice.DOUBTED", 0.9)
    sizing = size_car(14, tight=True, count=2).sizing
    (plan,) = (each for each in sizing.plans if each.is_chosen)
    (doubt,) = sizing.doubts
    assert doubt.code == "cure_uncertain"
    assert f"makes it {100.0 * plan.cured_adjusted_share:.0f}." in doubt.message


def test_branches_stand_where_there_is_room(curable: Sized, hopeless: Sized) -> None:
    for sized in (curable, hopeless):
        places_m = [b.position_m for b in sized.sizing.branches if b.position_m is not None]
        assert len(places_m) == len(sized.sizing.branches)
        for place_m in places_m:
            assert any(a - 1e-9 <= place_m <= b + 1e-9 for a, b in sized.told.places_m)
        if len(places_m) == 2:
            assert places_m[1] - places_m[0] >= 0.05
            assert sized.sizing.spacing_m == pytest.approx(places_m[1] - places_m[0])
    assert all(branch.length_m <= 0.8 + 1e-9 for branch in hopeless.sizing.branches)


def test_no_cure_is_said_before_anyone_cuts(hopeless: Sized) -> None:
    assert not hopeless.built().is_cured
    first = hopeless.sizing.warnings[0]
    assert first.code == "no_cure_in_room"
    console = Console(file=io.StringIO(), width=300)
    console.print(size_text(hopeless.sizing))
    assert isinstance(console.file, io.StringIO)
    assert console.file.getvalue().startswith("Does not fit")


def test_a_can_cures_where_plain_tube_is_too_long_for_the_room(canned: Sized) -> None:
    branches = canned.sizing.branches
    for branch in branches:
        assert branch.can is not None
        assert branch.length_m <= 0.8 + 1e-9
        assert branch.shortest_m < branch.length_m < branch.longest_m
    done = canned.built()
    assert done.is_cured
    span = canned.sizing.predicted.level_change_db_range
    assert span.low <= done.drone_db <= span.high
    pipe_m = canned.sizing.pipe_inner_diameter_m
    widest = max(t.inner_diameter_m for t in canned.request.tubes if t.outer_diameter_m <= pipe_m)
    tubes = tuple(t for t in canned.request.tubes if t.inner_diameter_m == widest)
    plain = replace(canned, sizing=size_branches(replace(canned.request, cans=False, tubes=tubes)))
    assert not plain.built().is_cured
    assert all(branch.can is None for branch in plain.sizing.branches)


def test_the_can_is_told(canned: Sized) -> None:
    document = json.loads(json.dumps(sizing_document(canned.sizing), allow_nan=False))
    jsonschema.validate(document, result_schema("size"))
    assert [branch["can"]["neck_mm"] for branch in document["branches"]] == [200.0, 200.0]
    console = Console(file=io.StringIO(), width=300)
    console.print(size_text(canned.sizing))
    assert isinstance(console.file, io.StringIO)
    assert "with a can: of that length the first" in " ".join(console.file.getvalue().split())
    assert any(gain.startswith("The can is there because") for gain in canned.sizing.gains)


def test_what_more_room_would_buy_is_said(hopeless: Sized) -> None:
    # A quarter wave is 1.6 m: a little more room gains nothing, and what twice the room would do is
    # said; too little for a cure that is sure, as part of the drone may pass the branches by.
    assert any("next to nothing" in gain for gain in hopeless.sizing.gains)
    assert any("branches of 1600 mm" in gain for gain in hopeless.sizing.gains)


def test_the_document_says_where(curable: Sized) -> None:
    document = sizing_document(curable.sizing)
    jsonschema.validate(json.loads(json.dumps(document, allow_nan=False)), result_schema("size"))
    branches = document["branches"]
    assert isinstance(branches, list)
    for branch in branches:
        assert isinstance(branch, dict)
        assert isinstance(branch["position_mm"], float)
    predicted = document["predicted"]
    assert isinstance(predicted, dict)
    assert predicted["elsewhere_change_db"] is not None


def test_plans_stand_side_by_side_and_the_fewest_welds_that_are_enough_are_chosen(
    curable: Sized,
) -> None:
    plans = curable.sizing.plans
    assert {plan.name for plan in plans} >= {"one branch", "two branches"}
    (chosen,) = (plan for plan in plans if plan.is_chosen)
    assert chosen.welds == len(curable.sizing.branches)
    for plan in plans:
        assert plan.cured_adjusted_share >= plan.cured_now_share
        assert plan.tube_m > 0.0
        is_enough = plan.cured_now_share >= 0.9
        assert not (is_enough and plan.welds < chosen.welds)
    assert (curable.sizing.kept is not None) == chosen.keeps_place
    spans = [plan.level_change_db_range for plan in plans]
    assert spans[plans.index(chosen)] == curable.sizing.predicted.level_change_db_range


def test_progress_rises_to_the_end(curable: Sized) -> None:
    done = curable.parts_done
    assert list(done) == sorted(done)
    assert 0.0 < done[0] < 0.2
    assert done[-1] == pytest.approx(1.0)


def test_a_room_that_holds_no_pipe_is_refused(curable: Sized) -> None:
    assert curable.request.line is not None
    (pipe,) = curable.request.line.pipes
    line = replace(curable.request.line, pipes=(replace(pipe, places_m=((0.0, 0.01),)),))
    with pytest.raises(SizingError, match=r"\[room\] places"):
        size_branches(replace(curable.request, line=line))
