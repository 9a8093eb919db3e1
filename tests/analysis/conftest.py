"""Generated drives and what was found in them, made once for all tests."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.signal import find_peaks, peak_prominences

from analysis.find.drone import find_drone
from analysis.findings import DroneBand, Findings
from tests.drives import ENGINES, GeneratedDrive, TrueBand, generate, random_spec

DRIVES = 36
SAME_PLACE = 0.12  # of the peak's frequency
SWEEP_END = 1.1  # what the ends of a sweep, where the load is another, and the first window lose
HILL_DB = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundDrive:
    """A generated drive, its seed and its findings."""

    seed: int
    bands: int
    made: GeneratedDrive
    findings: Findings

    @property
    def must_be_found(self) -> list[TrueBand]:
        return [band for band in self.made.truth.bands if band.main and self._stands_up(band)]

    def _stands_up(self, band: TrueBand) -> bool:
        """Whether the car's level itself has a hill there, within what was swept."""
        low_rpm, high_rpm = self.made.spec.swept_rpm
        rpm = np.geomspace(low_rpm * SWEEP_END, high_rpm / SWEEP_END, 2000)
        level_db = self.made.truth.car.level_db(band.engine_order, rpm)
        tops, _ = find_peaks(level_db)
        near = np.abs(band.engine_order * rpm[tops] / 60.0 / band.peak_hz - 1.0) < SAME_PLACE
        drops_db = peak_prominences(level_db, tops)[0]
        return bool((drops_db[near] >= HILL_DB).any())

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
