"""One and the same plan says the same, whatever it is laid beside."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.branches import Tube
from analysis.size.plan import Plan, choose_plan
from analysis.size.search import Room, Way
from analysis.size.wishes import BranchWishes
from tests.analysis.exhaust.test_ensemble import fit_as_heard

# inside the test's pipes of 60 mm
SEATED = Tube(outer_diameter_m=0.052, wall_m=0.0015, name="that sits on the pipe")
AS_WIDE = Tube(outer_diameter_m=0.0628, wall_m=0.0015, name="as wide as the pipe")


def weighed(room: Room, tubes: tuple[Tube, ...], count: int | None) -> tuple[Plan, ...]:
    wishes = BranchWishes(branch_count=count, tubes=tubes, cans=False)
    return choose_plan(room, wishes, lambda _: None).weighed


def single(room: Room, tubes: tuple[Tube, ...], count: int | None) -> Plan:
    return weighed(room, tubes, count)[0]


@pytest.fixture(scope="module")
def room() -> Room:
    """Short, so that one branch is far from sure, and a wider one a little surer."""
    setup = fit_as_heard()
    bench = setup.bench.thinned(slice(None, None, 4), slice(None, None, 2))
    return Room(bench=bench, allowed=setup.allowed, lengths_m=(0.3, 0.62))


def test_one_branch_is_the_same_alone_and_beside_two(room: Room) -> None:
    alone, beside = (single(room, (SEATED, AS_WIDE), count) for count in (1, None))
    assert not alone.is_enough
    assert alone.way == beside.way
    np.testing.assert_array_equal(alone.trials.place, beside.trials.place)
    np.testing.assert_array_equal(alone.trials.length_m, beside.trials.length_m)
    assert alone.cured_share == beside.cured_share


def test_one_branch_is_weighed_where_no_tube_sits_on_the_pipe(room: Room) -> None:
    assert single(room, (AS_WIDE,), None).count == 1


def test_two_branches_are_the_same_alone_and_beside_one_that_is_enough(room: Room) -> None:
    """The odds of a pair must not hang on whether it was asked for."""
    roomy = replace(room, lengths_m=(0.3, 1.2))
    *ones, beside = weighed(roomy, (SEATED, AS_WIDE), None)
    assert any(one.is_enough for one in ones)
    (alone,) = weighed(roomy, (SEATED, AS_WIDE), 2)
    assert alone.way == beside.way
    np.testing.assert_array_equal(alone.trials.length_m, beside.trials.length_m)
    assert alone.cured_share == beside.cured_share


def test_a_tube_of_the_pipe_s_own_size_has_places_though_it_was_rounded_up(room: Room) -> None:
    """A pipe measured as 60 mm, and a tube of 60.08: a sizing of them ended in a fault."""
    rounded = Tube(outer_diameter_m=0.06308, wall_m=0.0015, name="of the pipe's own size")
    way = Way(rounded, None, 2)
    assert room.kept_to(way).allowed.size == room.allowed.size
    wider = Way(Tube(outer_diameter_m=0.0645, wall_m=0.0015, name="too wide"), None, 2)
    assert room.kept_to(wider).allowed.size == 0
