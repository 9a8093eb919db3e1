"""Automatic gain is noticed where it was at work, and nowhere else."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np

from analysis.find import find_drone
from tests.drives import GeneratedDrive, generate, random_spec
from tests.drives.faults import with_automatic_gain


def droning_drive(seed: int) -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([77, seed]), bands=1, engine="6")
    return generate(spec, seed)


def codes(drive: GeneratedDrive) -> set[str]:
    return {doubt.code for doubt in find_drone(drive.drive()).warnings}


def test_only_a_recorder_with_automatic_gain_is_suspected() -> None:
    """About every second one is caught: wind that drowns the gaps between orders hides it."""
    drives = [droning_drive(seed) for seed in range(8)]
    assert not any("automatic_gain" in codes(drive) for drive in drives)
    levelled = [with_automatic_gain(drive, strength=0.8) for drive in drives]
    assert sum("automatic_gain" in codes(drive) for drive in levelled) >= 4
