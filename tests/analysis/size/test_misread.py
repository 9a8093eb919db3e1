"""A length that was typed wrong: told from the drive, named, and said before anyone cuts.

The cars are of ``tests/worlds``, solved there as a nodal network: the owner's tape slipped on the
tail pipe by 0.3 to 0.7 m.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.branches import Sizing
from analysis.exhaust.car import parse_car
from analysis.exhaust.misread import LengthCheck, Misread, check_lengths
from analysis.report.answer import build_sentence
from analysis.size.advice import LENGTH_MISREAD, OTHER_WAY, typed_lengths
from analysis.size.drone_curve import drone_curve
from analysis.size.request import SizingRequest
from analysis.size.setup import lay_curve_out
from tests.benchmarks.garage import request_of
from tests.done_once import sized_with_guesses
from tests.garage.drone import Change
from tests.worlds.cars import Stretch, Welded, WorldCar
from tests.worlds.draw import WORLDS, changes, droning_car, measure
from tests.worlds.told import Told, tell, true_place

(WORLD,) = (world for world in WORLDS if world.name == "tail pipe slips")
SEED = 2
TAIL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Slipped:
    """A car, what its owner wrote, what is asked, what the sizing says, and what came of it."""

    car: WorldCar
    told: Told
    request: SizingRequest
    sizing: Sizing
    lengths: LengthCheck
    got: Change


@pytest.fixture(scope="module")
def slipped() -> Slipped:
    """Size one car, some 6 s: both the length as typed and the one that fits are fitted."""
    rng = np.random.default_rng([91, SEED])
    car, heard = droning_car(WORLD, rng)
    told = tell(car, WORLD, rng)
    measured = measure(car, heard, rng)
    assert measured is not None
    request = request_of(measured, parse_car(tomllib.loads(told.whole)))
    sizing, setup = sized_with_guesses(request)
    assert setup.lengths is not None
    welded = tuple(
        Welded(
            leg="pipe",
            place_m=true_place(car, told, branch.position_m or 0.0)[1],
            length_m=branch.length_m,
            bore_m=branch.tube.inner_diameter_m,
        )
        for branch in sizing.branches
    )
    (got,) = changes(car, heard, welded)
    return Slipped(
        car=car, told=told, request=request, sizing=sizing, lengths=setup.lengths, got=got
    )


def test_the_length_that_fits_is_named_before_anyone_cuts(slipped: Slipped) -> None:
    first, *others = slipped.sizing.doubts
    typed_m, true_m = (s["pipe"][TAIL].length_m for s in (slipped.told.stretches, _true(slipped)))
    assert abs(typed_m - true_m) > 0.25
    assert first.code == LENGTH_MISREAD
    assert first.message.startswith("By this drive, section 3 would be about")
    assert "Before you cut, measure that pipe again" in first.message
    assert OTHER_WAY not in {doubt.code for doubt in others}  # the tape is to blame, no hanger
    assert "as typed: measure that pipe again" in build_sentence(slipped.sizing)


def test_it_is_within_what_a_tape_may_be_off_and_the_range_holds(slipped: Slipped) -> None:
    found = slipped.lengths.misread
    assert found is not None
    assert found.section == TAIL
    assert found.length_m == pytest.approx(_true(slipped)["pipe"][TAIL].length_m, rel=0.05)
    foretold = slipped.sizing.predicted.level_change_db_range
    assert foretold.low <= slipped.got.drone_db <= foretold.high


def test_typed_as_it_is_nothing_is_said(slipped: Slipped) -> None:
    line = slipped.request.line
    assert line is not None
    (pipe,) = line.pipes
    lengths_m = [stretch.length_m for stretch in _true(slipped)["pipe"]]
    sections = tuple(
        replace(section, length_m=length_m)
        for section, length_m in zip(pipe.sections, lengths_m, strict=True)
    )
    right = replace(line, pipes=(replace(pipe, sections=sections),))
    check = _check(replace(slipped.request, line=right))
    assert check.misread is None
    # 0.4 m of the tail pipe moves its resonances by a quarter: no gas makes up for that
    assert TAIL not in check.untold


def test_a_length_that_the_drive_cannot_check_is_told_only_where_the_plan_hangs_on_it(
    slipped: Slipped,
) -> None:
    line = slipped.request.line
    assert line is not None
    assert list(typed_lengths(line, None, {0: 2.0, 2: -1.0})) == []
    (doubt,) = typed_lengths(line, None, {0: 4.4, 2: 2.0})
    assert doubt.is_advice
    assert doubt.message.startswith("The drive cannot check the length of section 1: measure it")
    assert "cost 4 dB of the cure" in doubt.message
    (first,) = typed_lengths(line, Misread(section=2, length_m=1.2, gain=30.0), {0: 4.4})
    assert first.code == LENGTH_MISREAD


def _check(request: SizingRequest) -> LengthCheck:
    heard, _ = lay_curve_out(drone_curve(request), request.target.engine_order)
    assert request.line is not None
    rng = np.random.default_rng(3)
    return check_lengths(request.line, request.target.engine_order, heard, rng)


def _true(slipped: Slipped) -> dict[str, tuple[Stretch, ...]]:
    return {leg.name: leg.stretches for leg in slipped.car.legs}
