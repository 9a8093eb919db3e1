"""Automatic gain is noticed where it was at work; nowhere else: see ``test_on_drives``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from itertools import islice

import numpy as np

from analysis.find.drone import find_drone
from tests.drives import GeneratedDrive, generate, random_spec
from tests.drives.faults import with_automatic_gain


def droning_drive(seed: int) -> GeneratedDrive:
    spec = random_spec(np.random.default_rng([77, seed]), bands=1, engine="6")
    return generate(spec, seed)


def codes(drive: GeneratedDrive) -> set[str]:
    return {doubt.code for doubt in find_drone(drive.drive()).warnings}


def test_a_recorder_with_automatic_gain_is_suspected() -> None:
    """About every second one is caught: wind that drowns the gaps between orders hides it."""
    levelled = (with_automatic_gain(droning_drive(seed), strength=0.8) for seed in range(6))
    caught = (drive for drive in levelled if "automatic_gain" in codes(drive))
    assert len(list(islice(caught, 3))) == 3  # of six; no more are made than it takes
