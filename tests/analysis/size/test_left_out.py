"""A resonator that the car file leaves out: told from the drive, and counted until looked for.

The cars are of ``tests/worlds``, solved there as a nodal network: a small resonator sits in the
front pipe, which its owner measured as one piece.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.branches import Sizing
from analysis.exhaust.car import parse_car
from analysis.exhaust.ensemble import fit_ensemble
from analysis.exhaust.misread import LeftOut, left_out
from analysis.exhaust.prior import Prior, Slip
from analysis.report.answer import build_sentence
from analysis.size.advice import LEFT_OUT
from analysis.size.drone_curve import drone_curve
from analysis.size.request import SizingRequest
from analysis.size.setup import Setup, lay_curve_out
from tests.benchmarks.garage import request_of
from tests.done_once import sized_with_guesses
from tests.worlds.cars import WorldCar
from tests.worlds.draw import WORLDS, droning_car, measure
from tests.worlds.told import tell

(WORLD,) = (world for world in WORLDS if world.name == "resonator left out")
SEED = 100011


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """A car, and what is asked: as its owner wrote it, and with the resonator told."""

    car: WorldCar
    as_typed: SizingRequest
    told: SizingRequest


@pytest.fixture(scope="module")
def hidden() -> Hidden:
    def requested(*, leaves_out: bool) -> tuple[WorldCar, SizingRequest]:
        rng = np.random.default_rng([91, SEED, *WORLD.drawn_by])
        car, heard = droning_car(WORLD, rng)
        told = tell(car, replace(WORLD, hidden_resonator=leaves_out), rng)
        measured = measure(car, heard, np.random.default_rng(7))
        assert measured is not None
        return car, request_of(measured, parse_car(tomllib.loads(told.whole)))

    car, as_typed = requested(leaves_out=True)
    return Hidden(car=car, as_typed=as_typed, told=requested(leaves_out=False)[1])


@pytest.fixture(scope="module")
def sized(hidden: Hidden) -> tuple[Sizing, Setup]:
    return sized_with_guesses(hidden.as_typed)


@pytest.fixture(scope="module")
def found(sized: tuple[Sizing, Setup]) -> LeftOut | None:
    return sized[1].left_out


def test_the_pipe_that_hides_it_is_found_and_where(hidden: Hidden, found: LeftOut | None) -> None:
    assert found is not None
    assert found.section == 0
    front, resonator, *_ = hidden.car.leg("pipe").stretches
    middle_m = front.length_m + resonator.length_m / 2.0
    assert found.from_start_m == pytest.approx(middle_m, abs=0.4)


def test_with_it_told_nothing_is_missed(hidden: Hidden) -> None:
    assert _left_out(hidden.told) is None


def test_it_is_said_before_anyone_cuts(sized: tuple[Sizing, Setup]) -> None:
    sizing, _ = sized
    (doubt,) = (each for each in sizing.doubts if each.code == LEFT_OUT)
    assert "look along that pipe" in doubt.message
    assert "there may be a resonator" in build_sentence(sizing)


def test_the_can_moves_along_and_the_pipe_stays_as_long(
    hidden: Hidden, found: LeftOut | None
) -> None:
    line = hidden.as_typed.line
    assert line is not None
    assert found is not None
    assert found.line.lengths_m.sum() == pytest.approx(line.lengths_m.sum())
    slip = Slip(section=0, by_m=0.0, spread_m=0.3, onto=2)
    prior = Prior(line=found.line, engine_order=None, slips=(slip,))
    at = np.zeros((2, prior.size))
    at[1, -1] = 1.0
    lengths_m = prior.members(at).stretch * found.line.lengths_m
    assert lengths_m[1, 0] - lengths_m[0, 0] == pytest.approx(0.3)
    assert lengths_m[1].sum() == pytest.approx(lengths_m[0].sum())


def _left_out(request: SizingRequest) -> LeftOut | None:
    """As a sizing asks for it, but for the numbers drawn."""
    line, order = request.line, request.target.engine_order
    assert line is not None
    heard, _ = lay_curve_out(drone_curve(request), order)
    rng = np.random.default_rng(1)
    return left_out(line, order, heard, fit_ensemble(line, order, heard, rng, lambda _: None), rng)
