"""Of a drive whose recorder held the level only bands are told whose place is still known."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.basics.interval import Interval
from analysis.find.bands.levelled_bands import still_sure
from analysis.findings import DroneBand
from tests.analysis.made_findings import make_band


def band(order: float, hz: float, known_to: float = 0.01) -> DroneBand:
    near = Interval(low=hz * (1.0 - known_to), high=hz * (1.0 + known_to))
    return replace(make_band(order, 60.0 * hz / order), peak_hz_ci95=near)


def test_intervals_are_half_as_wide_again_and_none_is_told_beyond_5_percent() -> None:
    (told,) = still_sure([band(2.0, 100.0, 0.03)])
    assert told.peak_hz_ci95.low == pytest.approx(95.5)
    assert told.peak_hz_ci95.high == pytest.approx(104.5)
    assert still_sure([band(2.0, 100.0, 0.035)]) == ()


def test_one_order_alone_is_not_believed_beside_a_resonance_of_several() -> None:
    """At one engine speed all orders rise by what is left of the gain, at one frequency not."""
    several = [band(2.0, 60.0), band(3.0, 60.5)]
    alone = band(4.0, 150.0)
    assert [each.engine_order for each in still_sure([*several, alone])] == [2.0, 3.0]
    assert [each.engine_order for each in still_sure([alone])] == [4.0]
    at_one_speed = [band(2.0, 60.0), band(3.0, 90.0)]
    assert [each.engine_order for each in still_sure([*several, *at_one_speed[1:]])] == [2.0, 3.0]


def test_a_place_that_four_orders_agree_on_is_known_however_unsure_each_of_them_is() -> None:
    """What is left of the gain lifts all orders at one engine speed: at one frequency, chance."""
    three = [band(2.0, 109.6, 0.10), band(3.0, 110.1, 0.05), band(3.5, 109.3, 0.10)]
    told = still_sure([*three, band(5.0, 109.9, 0.10)])
    assert [each.engine_order for each in told] == [2.0, 3.0, 3.5, 5.0]
    assert still_sure(three) == ()
    assert still_sure([*three, band(5.0, 120.0, 0.10)]) == ()
