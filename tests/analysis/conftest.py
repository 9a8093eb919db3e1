"""Generated drives and what was found in them, made once for all tests."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from analysis.find.drone import find_drone
from analysis.findings import DroneBand, Findings
from tests.drives import ENGINES, GeneratedDrive, TrueBand, generate, random_spec

DRIVES = 36
SAME_PLACE = 0.12  # of the peak's frequency


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundDrive:
    """A generated drive, its seed and its findings."""

    seed: int
    bands: int
    made: GeneratedDrive
    findings: Findings

    @property
    def must_be_found(self) -> list[TrueBand]:
        return [band for band in self.made.truth.bands if band.main]

    def found(self, truth: TrueBand) -> DroneBand | None:
        near = [
            band
            for band in self.findings.bands
            if band.engine_order == truth.engine_order
            and abs(band.peak_hz / truth.peak_hz - 1.0) < SAME_PLACE
        ]
        return min(near, key=lambda band: abs(band.peak_hz - truth.peak_hz), default=None)


@pytest.fixture(scope="session")
def found_drives() -> list[FoundDrive]:
    """Every engine with none, one and two bands; telemetry of 1 to 20 Hz; some on two clocks."""
    return [_found(seed) for seed in range(DRIVES)]


def _found(seed: int) -> FoundDrive:
    rng = np.random.default_rng([77, seed])
    bands = (1, 2, 1, 0)[seed % 4]
    engine = ENGINES[(seed // 2) % 4]
    spec = random_spec(rng, bands=bands, engine=engine, two_clocks=seed % 5 == 4)
    spec = replace(spec, legs=spec.legs[:4])  # a rest, one sweep up, a rest, one sweep down
    made = generate(spec, seed)
    return FoundDrive(seed=seed, bands=bands, made=made, findings=find_drone(made.drive()))
