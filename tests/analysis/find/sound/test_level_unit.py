"""What a decibel stands for: of a full-scale sine, or of 20 micropascal when calibrated."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.find.drone import find_drone
from tests.analysis.made_drives import drive_of, orders_sound, rows, there_and_back

AMPLITUDE = 0.25  # of full scale: 12.04 dB below a full-scale sine (AES17)


@pytest.mark.parametrize(
    ("full_scale_db_spl", "unit", "level_db"),
    [
        (None, "dB re full scale", -12.04),
        # A calibrator of 94 dB (IEC 60942) shown at that amplitude makes a full-scale sine 106.04.
        (106.04, "dB SPL", 94.0),
    ],
)
def test_a_lone_order_has_the_level_of_its_sine(
    full_scale_db_spl: float | None, unit: str, level_db: float
) -> None:
    rpm = there_and_back(40.0, 1500.0, 3000.0)
    samples = orders_sound(rpm, {3.0: AMPLITUDE}, noise=1e-4)
    drive = drive_of(samples, rows(rpm))
    assert drive.sound is not None
    sound = replace(drive.sound, full_scale_db_spl=full_scale_db_spl)
    found = find_drone(replace(drive, sound=sound))
    assert found.level_unit == unit
    assert np.median(found.overall.level_z_db) == pytest.approx(level_db, abs=0.05)
    curve = next(each for each in found.curves if each.engine_order == 3.0)
    shown_db = 10.0 * np.log10(curve.total_ms) + found.full_scale_db
    assert np.median(shown_db) == pytest.approx(level_db, abs=0.05)
