"""An rpm log off by a factor is noticed, and a right one believed, on road drives."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from analysis.drive import Engine
from analysis.find.sound.speed_track import SpeedTrack
from analysis.find.sound.working_copy import WorkingCopy
from analysis.find.speed.log_factor import log_ratio
from tests.roads import RoadDrive, drive_on, plain


@cache
def road_drive(seed: int) -> RoadDrive:
    spec = plain(np.random.default_rng([seed, 5]))
    return drive_on(replace(spec, log=replace(spec.log, lag_s=0.0, factor=1.0)), seed)


@pytest.mark.parametrize("factor", [0.5, 1.0, 1.5, 2.0])
@pytest.mark.parametrize("seed", [1, 5, 7])
def test_a_factor_is_noticed(seed: int, factor: float) -> None:
    """A cross-plane V8, an even six, and another; the log as it would be read."""
    made = road_drive(seed)
    drive = made.drive()
    assert drive.sound is not None
    assert isinstance(drive.engine, Engine)
    grid_s = np.arange(0.0, drive.sound.duration_s, 0.05)
    rpm = factor * np.interp(grid_s, made.truth.time_s, made.truth.rpm)
    with WorkingCopy(drive.sound, lambda _: None) as copy:
        track = SpeedTrack(start_s=0.0, step_s=0.05, rpm=rpm)
        ratio = log_ratio(copy, track, drive.engine, drive.telemetry.drop(columns="rpm"))
    assert ratio == (None if factor == 1.0 else pytest.approx(1.0 / factor))
