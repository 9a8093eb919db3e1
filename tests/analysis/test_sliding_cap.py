"""The sliding cap: its range against a plane-wave line with a wider end."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.optimize import brentq

from analysis.branches import Branch
from analysis.exhaust.tube_stock import parse_tube
from analysis.size.from_findings import request_for_frequency
from analysis.size.size import size_branches


@pytest.fixture(scope="module")
def branch() -> Branch:
    return size_branches(
        request_for_frequency(frequency_hz=110.0, engine_order=3.0, car=None)
    ).branches[0]


def sounds_like_m(tube_m: float, sleeve_m: float, area_ratio: float) -> float:
    """Straight closed tube with the same first zero of its input impedance; exact plane waves.

    The wider end loads the tube with area_ratio * tan(k * sleeve): tan(k tube) times that is one.
    """

    def mouth(k: float) -> float:
        return 1.0 - math.tan(k * tube_m) * area_ratio * math.tan(k * sleeve_m)

    k = brentq(mouth, 1e-6, math.pi / 2.0 / (tube_m + sleeve_m))
    return float(math.pi / 2.0 / k)


def test_marks_of_the_slide_are_the_lengths_asked(branch: Branch) -> None:
    cap = branch.cap
    assert cap is not None
    tube_m = branch.tube_end_m
    ratio = (branch.tube.outer_diameter_m / branch.tube.inner_diameter_m) ** 2
    assert tube_m == pytest.approx(branch.shortest_m)
    assert sounds_like_m(tube_m, cap.start_m, ratio) == pytest.approx(branch.length_m, abs=2e-3)
    assert sounds_like_m(tube_m, cap.furthest_m, ratio) == pytest.approx(branch.longest_m, abs=4e-3)
    # Ignoring that the sleeve is wider would be further off.
    plain_m = branch.longest_m - branch.shortest_m
    assert sounds_like_m(tube_m, plain_m, ratio) > branch.longest_m + 4e-3


def test_sleeve_still_holds_when_pulled_out(branch: Branch) -> None:
    for name in ("1.5 in x 0.065 in", "3 in x 0.065 in"):
        cap = replace(branch, tube=parse_tube(name)).cap
        assert cap is not None
        assert cap.sleeve_m - cap.furthest_m >= 0.040
        assert 0.0 < cap.start_m < cap.furthest_m
