"""Cans on necks: pieces that add up, in the room, clear of the pipe, and tuned as asked."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from analysis.acoustics.gas import exhaust_gas
from analysis.basics.arrays import FloatArray
from analysis.basics.units import parse_length_m
from analysis.branches import Branch, Sizing
from analysis.build.workshop.folds import Room, centreline, inertance_share
from analysis.build.workshop.plan import BranchPlan, BuildWishes, plan_build
from analysis.build.workshop.stock_parts import bend_radii_m
from analysis.errors import SizingError
from analysis.exhaust.tube_stock import INCH_TUBES
from analysis.size.parts import with_caps
from analysis.words.shown import Units, showing
from tests.analysis.build.rooms import OPEN
from tests.analysis.report.sized_examples import branch, can_branch, sizing

LYING = Room(reach_m=0.20, run_m=0.90)
AIR_M = 0.025  # 1 in between hot parts; common practice, no source


def planned(
    one: Branch, room: Room = OPEN, degrees: float = 90.0, radius_m: float | None = None
) -> BranchPlan:
    sized: Sizing = sizing(one)
    wishes = BuildWishes(angle_rad=math.radians(degrees), room=room, bend_radius_m=radius_m)
    return plan_build(sized, wishes).branches[0]


def can_corners(plan: BranchPlan, degrees: float) -> FloatArray:
    """Outline of the can, cap pulled out, from the neck's middle line; no sleeve."""
    middle = centreline(plan.fold, math.radians(degrees), step_m=0.001)
    way = (middle[-1] - middle[-2]) / np.linalg.norm(middle[-1] - middle[-2])
    across = np.array([-way[1], way[0]]) * plan.capped_tube.outer_diameter_m / 2.0
    out_m = plan.can_m + plan.furthest_m
    return np.array(
        [middle[-1] + at * way + sign * across for at in (0.0, out_m) for sign in (1.0, -1.0)]
    )


@pytest.mark.parametrize("room", [OPEN, LYING])
def test_pieces_add_up_to_the_branch(room: Room) -> None:
    one = can_branch()
    plan = planned(one, room)
    fold = plan.fold
    assert one.can is not None
    assert plan.can is not None
    assert plan.can.length_m == pytest.approx(one.shortest_m - 0.20)
    points = centreline(fold, math.pi / 2.0, step_m=1e-4)
    measured_m = float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
    assert measured_m - fold.bends_take_m == pytest.approx(one.can.neck_m, abs=2e-5)
    assert plan.centreline_m == pytest.approx(sum(fold.straight_m) + sum(fold.arc_m) + plan.can_m)
    assert plan.centreline_m - fold.bends_take_m == pytest.approx(one.shortest_m)
    assert bool(fold.turn_rad) == (room is LYING)


def test_a_plain_branch_has_no_can() -> None:
    plan = planned(branch())
    assert plan.can is None
    assert plan.can_m == 0.0
    assert plan.centreline_m == pytest.approx(plan.branch.shortest_m)
    assert plan.capped_tube == plan.branch.tube


@settings(max_examples=60)
@given(
    length_m=st.floats(0.31, 0.9),
    tube=st.sampled_from(INCH_TUBES[:5]),
    reach_m=st.floats(0.12, 1.2),
    run_m=st.floats(0.1, 1.2),
    degrees=st.sampled_from([90.0, 90.0, 60.0, 30.0]),
)
def test_what_is_planned_fits_and_keeps_clear_of_the_pipe(
    length_m: float, tube: object, reach_m: float, run_m: float, degrees: float
) -> None:
    one = replace(can_branch(length_m), tube=tube)  # type: ignore[arg-type]
    try:
        plan = planned(one, Room(reach_m=reach_m, run_m=run_m), degrees)
    except SizingError:  # what it says is another test's
        return
    corners, wall_m = can_corners(plan, degrees), plan.saddle.pipe.wall_m
    foot_m = one.tube.outer_diameter_m / 2.0
    leftmost = min(float(corners[:, 0].min()), -foot_m)
    assert corners[:, 0].max() - leftmost <= run_m
    assert corners[:, 1].max() - wall_m <= reach_m
    assert corners[:, 1].min() - wall_m >= AIR_M
    assert plan.can is not None
    assert corners[:, 1].min() - wall_m >= plan.can.clear_of_pipe_m >= AIR_M
    if plan.fold.turn_rad:
        assert plan.fold.turn_rad == (math.pi / 2.0,)
        assert plan.fold.bend_radius_m in bend_radii_m(one.tube.outer_diameter_m)
        assert plan.fold.straight_m[1] >= 0.02
        assert plan.square_line_from_end_m > 0.0


@pytest.mark.parametrize("tube", INCH_TUBES[:5], ids=lambda tube: tube.name)
def test_every_usual_neck_bends_so_that_the_can_lies_along_the_pipe(tube: object) -> None:
    one = replace(can_branch(0.7), tube=tube)  # type: ignore[arg-type]
    assert planned(one, Room(reach_m=0.25, run_m=1.0)).fold.turn_rad


# --- acoustics ------------------------------------------------------------------------------------


def first_k(pieces: list[tuple[float, float, float]]) -> float:
    """First wave number at which a closed line's mouth is a short, lossless plane waves.

    Pieces (length, area, inertance share) from the mouth; apart from the code under test.
    """

    def mouth(k: float) -> float:
        pressure, flow = 1.0, 0.0
        for length_m, area, share in reversed(pieces):
            phase, z = k * math.sqrt(share) * length_m, math.sqrt(share) / area
            pressure, flow = (
                math.cos(phase) * pressure - z * math.sin(phase) * flow,
                math.sin(phase) / z * pressure + math.cos(phase) * flow,
            )
        return pressure

    at = np.linspace(0.05, 12.0, 4000)
    values = np.array([mouth(k) for k in at])
    first = int(np.flatnonzero(values < 0.0)[0])
    return float(brentq(mouth, at[first - 1], at[first]))


def areas(one: Branch) -> tuple[float, float, float]:
    assert one.can is not None
    can = one.can.tube
    return one.tube.inner_diameter_m**2, can.inner_diameter_m**2, can.outer_diameter_m**2


@pytest.mark.parametrize("length_m", [0.31, 0.52, 0.75])
def test_marks_of_the_slide_are_the_cans_asked(length_m: float) -> None:
    one = can_branch(length_m)
    neck, can, sleeve = areas(one)
    plan = planned(one)
    cap = plan.cap
    cut_m = plan.can_m
    assert cap is not None
    assert cap.counts_times == pytest.approx(sleeve / can)
    for pulled_m, wanted_m in (
        (0.0, one.shortest_m),
        (cap.start_m, one.length_m),
        (cap.furthest_m, one.longest_m),
    ):
        built = first_k([(0.2, neck, 1.0), (cut_m, can, 1.0), (pulled_m, sleeve, 1.0)])
        assert built == pytest.approx(
            first_k([(0.2, neck, 1.0), (wanted_m - 0.2, can, 1.0)]), rel=0.004
        )
    # As if the sleeve were on the neck's tube it would be off by more than that.
    neck_m = (one.longest_m - one.shortest_m) * neck / one.tube.outer_diameter_m**2
    wrong = first_k([(0.2, neck, 1.0), (cut_m, can, 1.0), (neck_m, sleeve, 1.0)])
    asked = first_k([(0.2, neck, 1.0), (one.longest_m - 0.2, can, 1.0)])
    assert abs(wrong / asked - 1.0) > 0.004


@pytest.mark.parametrize("length_m", [0.35, 0.52, 0.75])
@pytest.mark.parametrize("radius_in", [2.0, 2.5, 3.0])
def test_a_bent_neck_is_tuned_as_the_straight_one(length_m: float, radius_in: float) -> None:
    one = can_branch(length_m)
    neck, can, _ = areas(one)
    straight = first_k([(0.2, neck, 1.0), (length_m - 0.2, can, 1.0)])
    speed_m_s = float(exhaust_gas(one.gas_temperature_k).speed_of_sound_m_s)
    one = replace(one, tuned_hz=straight * speed_m_s / (2.0 * math.pi))
    fold = planned(one, LYING, radius_m=0.0254 * radius_in).fold
    share = inertance_share(fold.bend_radius_m, one.tube.inner_diameter_m)
    first_m, last_m = fold.straight_m

    def tuned(last_m: float) -> float:
        bent = [(first_m, neck, 1.0), (fold.arc_m[0], neck, share), (last_m, neck, 1.0)]
        return first_k([*bent, (length_m - 0.2, can, 1.0)])

    assert tuned(last_m) == pytest.approx(straight, rel=5e-4)
    assert abs(tuned(last_m - fold.bends_take_m) / straight - 1.0) > 1e-3


# --- what cannot be built -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("room", "degrees", "radius_m", "says"),
    [
        (
            Room(reach_m=0.2, run_m=0.4),
            90.0,
            None,
            r"straight, or \d+ mm .* x .* with a bend",
        ),
        (LYING, 90.0, 0.15, r"too short for a bend of 150 mm \(5 7/8 in\) radius"),
        (LYING, 60.0, None, "--angle 90"),
    ],
)
def test_what_does_not_fit_says_what_to_do(
    room: Room, degrees: float, radius_m: float | None, says: str
) -> None:
    with pytest.raises(SizingError, match=says):
        planned(can_branch(), room, degrees, radius_m)


@pytest.mark.parametrize("units", [Units.METRIC, Units.INCH])
def test_the_room_that_an_error_asks_for_is_enough(units: Units) -> None:
    with showing(units), pytest.raises(SizingError) as caught:
        planned(can_branch(), Room(reach_m=0.1, run_m=0.1))
    words = str(caught.value).split("it needs ")[1]
    for part in (words.split(" straight")[0], words.split("or ")[1].split(" with")[0]):
        out, along = map(parse_length_m, part.split(" x "))
        planned(can_branch(), Room(reach_m=out, run_m=along))


def test_a_short_can_keeps_enough_tube_to_hold_the_sleeve() -> None:
    (short,) = with_caps((replace(can_branch(0.31), shortest_m=0.23),), None)
    assert short.tube_end_m - 0.20 >= 0.040  # common practice, no source: about a radius
    assert short.slide_m is not None
    assert short.slide_m.low < short.length_m


@pytest.mark.parametrize("length_m", [0.305, 0.4, 0.8])
def test_the_sleeve_holds_and_goes_on_the_can(length_m: float) -> None:
    one = can_branch(length_m)
    cap = one.cap
    assert cap is not None
    assert cap.sleeve_m - cap.furthest_m >= 0.040  # as on a plain branch
    assert cap.sleeve_m <= one.tube_end_m - 0.20
