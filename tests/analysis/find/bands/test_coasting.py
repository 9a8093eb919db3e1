"""What is left of a band at its road speed with the engine elsewhere; where nothing is asked."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.drive import Engine
from analysis.find.bands.coasting import Cruise, coasting_view
from analysis.findings import GearView
from tests.analysis.made_drives import copy_of
from tests.analysis.made_findings import make_band

RATE_HZ = 4000.0
TONE_HZ = 200.0 / 3.0  # order 1 at 4,000 rpm, and order 2 at 2,000
VIEW = GearView(gear=0, share_of_rise=1.0, road_speed_m_s=20.0)
BAND = replace(make_band(1.0, 4000.0), by_gear=(VIEW,))
SIX = Engine(cylinders=6)


def share_at(rpm: float, engine: Engine | None) -> float | None:
    """Of a tone that stays, at the band's own level, with the engine at this speed."""
    time_s = np.arange(0.0, 20.0, 1.0 / RATE_HZ)
    at_s = np.arange(1.0, 19.0, 0.25)
    with copy_of(0.5 * np.sin(2.0 * np.pi * TONE_HZ * time_s)) as copy:
        cruise = Cruise(
            copy=copy,
            engine=engine,
            time_s=at_s,
            rpm=np.full(at_s.size, rpm),
            road_speed_m_s=np.full(at_s.size, 20.0),
        )
        view = coasting_view(replace(BAND, level_db=10.0 * np.log10(0.125)), cruise, 0.0)
    return None if view is None else view.share_of_rise


def test_with_the_engine_at_idle_a_tone_that_stays_is_of_the_road() -> None:
    """Order 3 and its multiples lie at 40, 80 ... Hz."""
    assert share_at(800.0, SIX) == pytest.approx(1.0, abs=0.1)


def test_a_half_order_of_an_engine_that_pulls_may_be_the_tone() -> None:
    """At 2,000 rpm order 2 lies on it, which unlike cylinders make though firing is order 3."""
    assert share_at(2000.0, SIX) is None


def test_of_an_unknown_engine_any_half_order_may_be_the_tone() -> None:
    assert share_at(800.0, None) is None
