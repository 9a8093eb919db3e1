"""Stock sizes: bend radii as read in a US tube stock table; the rest is common practice."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import pytest

from analysis.build.workshop.stock_parts import bend_radii_m, hole_saws, likely_pipe, pipe_with_wall
from analysis.exhaust.tube_stock import INCH_TUBES, METRIC_TUBES

INCH_M = 0.0254


def test_bends_of_two_inch_tube_start_at_one_and_a_half_times() -> None:
    radii_in = [radius / INCH_M for radius in bend_radii_m(2.0 * INCH_M)]
    assert radii_in == pytest.approx([3.0, 3.5, 4.0, 5.0, 6.0, 2.5])


def test_unlisted_tube_gets_bends_of_one_and_a_half_and_two_times() -> None:
    assert bend_radii_m(0.060) == pytest.approx([0.090, 0.120])


@pytest.mark.parametrize(
    ("bore_mm", "names"),
    [
        (47.50, ["1 7/8 in", "48 mm"]),  # 47.6 and 48 mm
        (53.85, ["2 1/8 in", "54 mm"]),
        (72.90, ["2 7/8 in", "73 mm"]),
        (30.0, []),
    ],
)
def test_saw_is_the_widest_that_the_tube_still_covers(bore_mm: float, names: list[str]) -> None:
    assert [saw.name for saw in hole_saws(bore_mm / 1e3)] == names


@pytest.mark.parametrize("tube", INCH_TUBES + METRIC_TUBES, ids=lambda tube: tube.name)
def test_no_saw_cuts_past_the_tubes_wall(tube: object) -> None:
    from analysis.branches import Tube

    assert isinstance(tube, Tube)
    for saw in hole_saws(tube.inner_diameter_m):
        assert saw.diameter_m < tube.inner_diameter_m + tube.wall_m


@pytest.mark.parametrize(
    ("bore_mm", "outside_mm"),
    # 2 1/2 in x 0.065 in; 2 in x 0.065 in; 60 x 1.5 mm; nothing in stock: 1.5 mm walls.
    [(60.2, 63.5), (47.5, 50.8), (57.0, 60.0), (81.0, 84.0)],
)
def test_likely_pipe(bore_mm: float, outside_mm: float) -> None:
    pipe = likely_pipe(bore_mm / 1e3)
    assert 1e3 * pipe.outer_diameter_m == pytest.approx(outside_mm, abs=0.01)
    assert 1e3 * pipe.inner_diameter_m == pytest.approx(bore_mm)


def test_a_measured_wall_is_taken_as_it_is() -> None:
    assert pipe_with_wall(0.0602, 0.002).outer_diameter_m == pytest.approx(0.0642)
