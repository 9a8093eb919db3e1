"""Half of the cylinders at rest: engine or road is left open where both would look alike."""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import replace

import pytest

from analysis.drive import Engine
from analysis.find.bands.lock import may_be_resting
from analysis.findings import COASTING, DroneBand, GearView
from tests.analysis.made_findings import make_band

V8 = Engine(cylinders=8)


def band(order: float = 2.0, rpm: float = 1800.0, **shares: float) -> DroneBand:
    gears = {"low": 0, "high": 1, "coasting": COASTING}
    views = tuple(
        GearView(gear=gears[name], share_of_rise=share, road_speed_m_s=25.0)
        for name, share in shares.items()
    )
    return replace(make_band(order, rpm), by_gear=views)


def test_half_of_the_firing_order_in_the_top_gear_alone() -> None:
    assert may_be_resting(band(low=0.0, high=1.0), V8)


@pytest.mark.parametrize(
    "other",
    [
        band(order=4.0, low=0.0, high=1.0),  # the firing order itself
        band(rpm=3200.0, low=0.0, high=1.0),  # no engine rests there
        band(low=1.0, high=0.0),  # in the lower gear
        band(low=1.0, high=1.0),  # in both
        band(low=0.0, high=1.0, coasting=1.0),  # with the engine elsewhere: the road
        band(),  # no gear known
    ],
)
def test_what_it_is_not(other: DroneBand) -> None:
    assert not may_be_resting(other, V8)


def test_without_an_engine_nothing_is_known() -> None:
    assert not may_be_resting(band(low=0.0, high=1.0), None)
