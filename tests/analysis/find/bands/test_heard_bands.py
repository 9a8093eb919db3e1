"""What others read of the bands: all of them, the most troubling first."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from typing import cast

import numpy as np
import pytest

from analysis.find.bands.coasting import Cruise
from analysis.find.bands.drone_bands import fit_drones
from analysis.find.bands.heard_bands import heard_bands
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import OverallCurve
from tests.analysis.find.bands.test_drone_bands import RPM, Mode, points

NO_CRUISE = Cruise(
    copy=cast(WorkingCopy, None),  # no road speed is known, so nobody listens again
    engine=None,
    time_s=np.zeros(0),
    rpm=np.zeros(0),
    road_speed_m_s=np.zeros(0),
)


@pytest.mark.parametrize("rumble_db", [0.0, 40.0])
def test_the_most_troubling_comes_first_and_a_rumble_hides_none(rumble_db: float) -> None:
    """A cabin's rumble below 20 Hz is the loudest of all, and the ear hardly hears it.

    Peaks of -28 dB and -30 dB; the ear weighs the lower note down as well.
    """
    made = [
        points(2.0, [Mode(peak_hz=60.0, width=0.1, gain=2.0)], trend_db=0.0),
        points(3.0, [Mode(peak_hz=110.0, width=0.1, gain=3.0)], trend_db=0.0),
    ]
    level_db = np.full(RPM.size, -28.0 + rumble_db)
    overall = OverallCurve(
        rpm=RPM,
        level_z_db=level_db,
        level_c_db=level_db,
        level_a_db=level_db,
        seconds=np.ones(RPM.size),
    )
    told = heard_bands(fit_drones(made, 0.0), overall, NO_CRUISE, 0.0)
    assert [band.engine_order for band in told] == [3.0, 2.0]
