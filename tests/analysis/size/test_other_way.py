"""Sound that passes every branch by: told from the drive's curve, and said before anyone cuts.

The car is one of ``tests/worlds``, solved there as a nodal network: a fifth of its drone's energy
comes through the body.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.answers.sizing_document import sizing_document
from analysis.basics.interval import Interval
from analysis.bench.exhaust_bench import Trials
from analysis.branches import Sizing
from analysis.exhaust.car import parse_car
from analysis.findings import TailSound
from analysis.report.answer import build_sentence, sized_blocks
from analysis.size.advice import MAY_BE_OTHER_WAY, OTHER_WAY
from analysis.size.drone_curve import drone_curve
from analysis.size.request import SizingRequest
from analysis.size.setup import Setup, set_up
from tests.analysis.exhaust.test_ensemble import as_typed
from tests.benchmarks.garage import request_of
from tests.done_once import sized_with_guesses
from tests.worlds.draw import WORLDS, droning_car, measure
from tests.worlds.tail_microphone import both_heard
from tests.worlds.told import tell

WORLD = {world.name: world for world in WORLDS}
SEED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaken:
    """What the sizing of the car says, and the bench that it was worked out on."""

    sizing: Sizing
    setup: Setup


def sized(request: SizingRequest) -> Shaken:
    sizing, setup = sized_with_guesses(request)
    return Shaken(sizing=sizing, setup=setup)


def asked(world: str, *, at_tail: bool) -> SizingRequest:
    """Drive one car, with the second microphone or without it."""
    rng = np.random.default_rng([91, SEED])
    car, heard = droning_car(WORLD[world], rng)
    told = tell(car, WORLD[world], rng)
    measured = measure(car, heard, rng)
    assert measured is not None
    request = request_of(measured, parse_car(tomllib.loads(told.whole)))
    if not at_tail:
        return request
    both = both_heard(car, measured.rpm, np.random.default_rng([92, SEED]))
    tail = TailSound(
        engine_order=car.order,
        rpm=both.rpm,
        ratio=both.ratio,
        sigma=both.sigma,
        tail_db=both.tail_db,
    )
    return replace(request, tail=tail)


@pytest.fixture(scope="module")
def shaken() -> Shaken:
    """Size one car, some 3 s: a drive's curve has to be fitted to know where its sound comes."""
    return sized(asked("structure 20 %", at_tail=False))


@pytest.fixture(scope="module")
def heard_at_tail() -> Shaken:
    """The same car, with a second microphone: some 4 s."""
    return sized(asked("structure 20 %", at_tail=True))


def test_a_shaken_body_is_said_before_anyone_cuts(shaken: Shaken) -> None:
    first = shaken.sizing.warnings[0]
    assert first.code == OTHER_WAY
    assert shaken.sizing.predicted.level_change_db_range.high > -10.0
    for part in ("Do not cut", "hangers", "second microphone", "dB at best"):
        assert part in build_sentence(shaken.sizing)
    assert sized_blocks(shaken.sizing) == []


def test_where_it_may_be_so_the_answer_has_the_card_and_says_what_to_look_at_first(
    shaken: Shaken,
) -> None:
    first, *others = shaken.sizing.warnings
    doubted = replace(shaken.sizing, warnings=(replace(first, code=MAY_BE_OTHER_WAY), *others))
    assert "may not come out of the tail pipe" in build_sentence(doubted)
    assert sized_blocks(doubted) != []
    sure = replace(doubted, warnings=tuple(others))
    assert "tail pipe" not in build_sentence(sure)


def beyond(setup: Setup) -> float:
    """Share of the guesses in which even a silent tail pipe leaves more than a tenth."""
    return float(np.mean(setup.bench.silenced().drone_db[0] > -10.0))


def test_a_microphone_at_the_tail_settles_whether_a_silent_tail_pipe_would_do(
    heard_at_tail: Shaken,
) -> None:
    """The guesses are fitted to both curves."""
    assert beyond(heard_at_tail.setup) >= 0.9
    request = asked("one pipe", at_tail=True)
    assert request.line is not None
    order, gas_k = request.target.engine_order, Interval(low=330.0, high=620.0)
    curve = drone_curve(request)
    with as_typed():
        met = set_up(request.line, curve, order, gas_k, lambda _: None, tail=request.tail)
    assert beyond(met) <= 0.05


def test_what_the_microphone_at_the_tail_measured_is_said(
    shaken: Shaken, heard_at_tail: Shaken
) -> None:
    sizing = heard_at_tail.sizing
    (first,) = [each for each in sizing.warnings if each.code == OTHER_WAY]
    assert re.search(r"[0-9]+ % of its energy \([0-9]+ to [0-9]+ %\) does not come", first.message)
    assert "second microphone" not in first.message
    assert any(said.startswith("By the microphone at the tail") for said in sizing.assumptions)
    assert not any("microphone at the tail" in said for said in shaken.sizing.assumptions)
    told = sizing.other_way
    assert told is not None
    assert told.span.low < 0.2 < told.span.high  # the world's own share
    document = sizing_document(sizing)["other_way"]
    ends = [round(100.0 * end, 1) for end in (told.span.low, told.span.high)]
    assert document == {"percent": round(100.0 * told.share, 1), "percent_range": ends}
    assert sizing_document(shaken.sizing)["other_way"] is None


def test_what_is_left_lies_between_the_sum_and_the_difference_of_its_two_ways(
    shaken: Shaken,
) -> None:
    """The triangle of two waves: each guess's amplitude after, over the outlet's before."""
    setup = shaken.setup
    bench = replace(setup.bench, left_out_db=np.zeros(1))
    alone = replace(bench, other_way=np.zeros((1, 1), np.complex64))
    trials = Trials(
        place=setup.allowed[[1, setup.allowed.size // 2]][:, None],
        length_m=np.array([[0.7], [0.9]]),
        bore_m=0.04,
    )
    outlet = 1.0 / np.sqrt(alone.lost(trials))
    left = np.abs(1.0 + bench.other_way) / np.sqrt(bench.lost(trials))
    other = np.abs(bench.other_way)
    assert np.all(left <= (outlet + other) * 1.001)
    assert np.all(left >= np.abs(outlet - other) * 0.999 - 1e-3)
    assert not np.allclose(left, outlet, rtol=0.05)
