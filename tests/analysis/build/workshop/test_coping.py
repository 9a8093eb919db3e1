"""The saddle curve against the two cylinders' own equations, and published layouts."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from analysis.basics.arrays import FloatArray
from analysis.branches import Tube
from analysis.build.workshop.coping import Saddle, saddle_m
from analysis.errors import SizingError

INCH_M = 0.0254


def tube(outside_mm: float, wall_mm: float = 1.651) -> Tube:
    return Tube(outer_diameter_m=outside_mm / 1e3, wall_m=wall_mm / 1e3, name="made up")


def set_on(
    branch_mm: float = 50.8, pipe_mm: float = 63.5, degrees: float = 90.0, wall_mm: float = 1.651
) -> Saddle:
    return Saddle(
        pipe=tube(pipe_mm, wall_mm), branch=tube(branch_mm), angle_rad=math.radians(degrees)
    )


def line_on_branch(along_m: float, around: float, radius_m: float, angle: float) -> FloatArray:
    """Point of the branch's surface in space; x along the pipe, z up. Plain geometry."""
    axis = np.array([math.cos(angle), 0.0, math.sin(angle)])
    wide_side = np.array([-math.sin(angle), 0.0, math.cos(angle)])
    sideways = np.array([0.0, 1.0, 0.0])
    return np.asarray(
        along_m * axis + radius_m * (math.cos(around) * wide_side + math.sin(around) * sideways)
    )


def walk_to_the_pipe(around: float, radius_m: float, pipe_m: float, angle: float) -> float:
    """Where a line on the branch enters the pipe, by root finding on y^2 + z^2 = R^2."""

    def outside(along_m: float) -> float:
        _, y, z = line_on_branch(along_m, around, radius_m, angle)
        return float(y**2 + z**2 - pipe_m**2)

    # The line runs through the pipe; halfway through it is nearest to the pipe's axis.
    halfway_m = -radius_m * math.cos(around) * math.cos(angle) / math.sin(angle)
    return float(brentq(outside, halfway_m, halfway_m + 10.0 * pipe_m, xtol=1e-13))


# Worked from the closed form by others: outside trace, mm from the crossing of the axes.
def test_values_of_a_two_inch_branch_on_two_and_a_half() -> None:
    around = np.radians([0.0, 22.5, 45.0, 67.5, 90.0])
    found_m = saddle_m(
        around, pipe_radius_m=0.03175, branch_radius_m=0.0254, angle_rad=math.pi / 2.0
    )
    assert 1e3 * found_m == pytest.approx([31.750, 30.2255, 26.1817, 21.3865, 19.050], abs=1e-4)
    assert 1e3 * set_on().depth_m == pytest.approx(12.700, abs=1e-6)  # 3-4-5 triangle
    assert 1e3 * set_on(63.5, 63.5).depth_m == pytest.approx(31.75, abs=1e-6)


def test_values_at_45_degrees() -> None:
    around = np.radians([0.0, 90.0, 180.0])
    found_m = saddle_m(
        around, pipe_radius_m=0.03175, branch_radius_m=0.0254, angle_rad=math.pi / 4.0
    )
    # At 0 and 180 degrees the side view is plane trigonometry: R / sin 45 -+ r / tan 45.
    assert 1e3 * found_m[0] == pytest.approx(31.75 * math.sqrt(2.0) - 25.4, abs=1e-6)
    assert 1e3 * found_m[2] == pytest.approx(31.75 * math.sqrt(2.0) + 25.4, abs=1e-6)
    assert 1e3 * found_m[1] == pytest.approx(26.9408, abs=1e-4)


def test_published_layout_of_a_2_inch_pipe_on_a_6_inch_pipe() -> None:
    # 2.375 on 6.625 in: ordinates 3.3125 and 3.0923 in, depth 0.2202 in, a pipe fitter's example.
    found_m = saddle_m(
        np.radians([0.0, 90.0]),
        pipe_radius_m=3.3125 * INCH_M,
        branch_radius_m=1.1875 * INCH_M,
        angle_rad=math.pi / 2.0,
    )
    assert found_m / INCH_M == pytest.approx([3.3125, 3.0923], abs=1e-4)


ANGLES = st.floats(30.0, 90.0)
BRANCHES_MM = st.floats(15.0, 100.0)
WIDER = st.floats(1.0, 2.5)


@given(degrees=ANGLES, branch_mm=BRANCHES_MM, wider=WIDER, around=st.floats(0.0, 2.0 * math.pi))
def test_root_finding_on_the_two_cylinders_gives_the_same(
    degrees: float, branch_mm: float, wider: float, around: float
) -> None:
    saddle = set_on(branch_mm, branch_mm * wider, degrees)
    pipe_m = saddle.pipe.outer_diameter_m / 2.0
    for edge, radius_m in (
        (saddle.outer_edge_m, saddle.branch.outer_diameter_m / 2.0),
        (saddle.inner_edge_m, saddle.branch.inner_diameter_m / 2.0),
    ):
        closed_m = float(edge(np.array([around]))[0]) + saddle.datum_m
        found_m = walk_to_the_pipe(around, radius_m, pipe_m, saddle.angle_rad)
        assert closed_m == pytest.approx(found_m, abs=2e-6)
        _, y, z = line_on_branch(closed_m, around, radius_m, saddle.angle_rad)
        assert math.hypot(y, z) == pytest.approx(pipe_m, abs=1e-9)


@given(degrees=ANGLES, branch_mm=BRANCHES_MM, wider=WIDER)
def test_nearest_and_farthest_are_those_of_a_fine_search(
    degrees: float, branch_mm: float, wider: float
) -> None:
    saddle = set_on(branch_mm, branch_mm * wider, degrees)
    curve_m = saddle.outer_edge_m(np.linspace(0.0, 2.0 * math.pi, 20_001))
    assert saddle.nearest_m == pytest.approx(float(curve_m.min()), abs=1e-6)
    assert saddle.farthest_m == pytest.approx(float(curve_m.max()), abs=1e-6)


@given(degrees=ANGLES, branch_mm=BRANCHES_MM, wider=WIDER)
def test_hole_rolled_back_onto_the_pipe_lies_on_the_bore(
    degrees: float, branch_mm: float, wider: float
) -> None:
    saddle = set_on(branch_mm, branch_mm * wider, degrees)
    along_m, across_m = saddle.hole_outline_m(np.linspace(0.0, 2.0 * math.pi, 73))
    pipe_m, angle = saddle.pipe.outer_diameter_m / 2.0, saddle.angle_rad
    datum_x_m = saddle.datum_m * math.cos(angle)
    around_pipe = across_m / pipe_m
    points = np.column_stack(
        [along_m + datum_x_m, pipe_m * np.sin(around_pipe), pipe_m * np.cos(around_pipe)]
    )
    axis = np.array([math.cos(angle), 0.0, math.sin(angle)])
    from_axis_m = np.linalg.norm(np.cross(points, axis), axis=1)
    assert from_axis_m == pytest.approx(saddle.branch.inner_diameter_m / 2.0, abs=1e-9)


def test_hole_of_a_square_branch_is_as_long_as_its_bore() -> None:
    saddle = set_on()
    along_m, across_m = saddle.hole_outline_m(np.radians([0.0, 90.0, 180.0]))
    assert along_m[2] - along_m[0] == pytest.approx(saddle.branch.inner_diameter_m)
    # The chord is the bore; on paper laid around the pipe it is the arc over that chord.
    chord_m = 2.0 * 0.03175 * math.sin(across_m[1] / 0.03175)
    assert chord_m == pytest.approx(saddle.branch.inner_diameter_m)


def test_datum_is_the_inner_crown_on_the_branchs_axis() -> None:
    square, leaning = set_on(degrees=90.0), set_on(degrees=30.0)
    assert square.datum_m == pytest.approx(square.pipe.inner_diameter_m / 2.0)
    assert leaning.datum_m == pytest.approx(leaning.pipe.inner_diameter_m)  # sin 30 = 1/2


def test_thicker_tube_has_its_inside_edge_further_out_at_the_sides() -> None:
    sides = np.radians([90.0, 270.0])
    thin, thick = set_on(), Saddle(pipe=tube(63.5), branch=tube(50.8, 3.0), angle_rad=math.pi / 2)
    for saddle in (thin, thick):
        assert np.all(saddle.inner_edge_m(sides) > saddle.outer_edge_m(sides))
    assert thick.inner_edge_m(sides)[0] > thin.inner_edge_m(sides)[0]


@pytest.mark.parametrize("degrees", [29.0, 91.0, 0.0, -45.0, math.nan])
def test_angles_that_nobody_can_cut_are_refused(degrees: float) -> None:
    with pytest.raises(SizingError, match="30 to 90"):
        set_on(degrees=degrees)


def test_branch_wider_than_the_pipe_is_refused() -> None:
    with pytest.raises(SizingError, match="--tube"):
        set_on(branch_mm=65.0, pipe_mm=63.5)
