"""Where a tone that is locked to the road meets its resonance, gear by gear."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from tests.drives.spec import DriveSpec
from tests.drives.transfer import ResonatorBank
from tests.drives.truth import drone_peaks


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueRoadBand:
    """One gear's way through the resonance of a road tone.

    ``engine_order`` is what the tone looks like in this gear; it need not be a half order.
    ``driven`` says that a slow sweep in this gear reached the peak.
    """

    gear: int
    engine_order: float
    peak_hz: float
    low_hz: float
    high_hz: float
    rise_db: float
    peak_speed_m_s: float
    driven: bool

    @property
    def peak_rpm(self) -> float:
        """Engine speed at the peak in this gear."""
        return 60.0 * self.peak_hz / self.engine_order


def road_bands(spec: DriveSpec) -> tuple[TrueRoadBand, ...]:
    """Every gear's band; empty without a road tone that has a resonance of 6 dB or more."""
    tone = spec.road_tone
    if tone is None or tone.resonator is None:
        return ()
    bank = ResonatorBank([tone.resonator], spec.sample_rate_hz)

    def rise_db(frequency_hz: FloatArray) -> FloatArray:
        return np.asarray(20.0 * np.log10(np.abs(bank.response(frequency_hz))))

    bands = []
    for peak_hz, low_hz, high_hz in drone_peaks(rise_db):
        speed_m_s = peak_hz / tone.cycles_per_metre
        for gear, (low_rpm, high_rpm) in _swept_in_gear(spec).items():
            rpm = speed_m_s / spec.gearing.speed_m_s(1.0, gear)
            bands.append(
                TrueRoadBand(
                    gear=gear,
                    engine_order=60.0 * peak_hz / rpm,
                    peak_hz=peak_hz,
                    low_hz=low_hz,
                    high_hz=high_hz,
                    rise_db=float(rise_db(np.array([peak_hz]))[0]),
                    peak_speed_m_s=speed_m_s,
                    driven=low_rpm < rpm < high_rpm,
                )
            )
    return tuple(bands)


def _swept_in_gear(spec: DriveSpec) -> dict[int, tuple[float, float]]:
    """Lowest and highest engine speed of the slow sweeps in each gear."""
    swept: dict[int, tuple[float, float]] = {}
    start = spec.start_rpm
    for leg in spec.legs:
        if leg.gear and leg.is_sweep(start):
            low, high = swept.get(leg.gear, (np.inf, -np.inf))
            swept[leg.gear] = (min(low, start, leg.end_rpm), max(high, start, leg.end_rpm))
        start = leg.end_rpm
    return swept
