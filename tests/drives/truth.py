"""What is true of a generated drive, worked out from the filters and not from the sound."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.basics.arrays import FloatArray
from tests.drives.noise import CabinNoise, pressure_pa
from tests.drives.pulses import REFERENCE_RPM, PulseTrain
from tests.drives.spec import DriveSpec, WholeExhaust
from tests.drives.transfer import BranchFilter, LineFilter, ResonatorBank, SmoothFilter

ORDERS = tuple(0.5 * k for k in range(1, 25))
DRONE_RISE_DB = 6.0
NOISE_BANDWIDTH_HZ = 2.0
_SEARCH_HZ = (20.0, 400.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueBand:
    """One order's way through one resonance.

    ``low_hz``/``high_hz`` are where the rise is 3 dB below its peak. ``whole`` says that a slow
    sweep covered all of it, ``order_to_noise_db`` how far the order stands out of the noise of a
    2 Hz bandwidth at the peak, ``below_strongest_db`` how far it stays under the strongest order
    at the same rpm (0 for the strongest).
    """

    engine_order: float
    peak_hz: float
    low_hz: float
    high_hz: float
    rise_db: float
    level_db: float  # 10 lg of the mean square in full scale squared, full load
    order_to_noise_db: float
    below_strongest_db: float
    whole: bool

    @property
    def peak_rpm(self) -> float:
        """Engine speed at the peak."""
        return 60.0 * self.peak_hz / self.engine_order

    @property
    def low_rpm(self) -> float:
        """Engine speed at the lower half-power point."""
        return 60.0 * self.low_hz / self.engine_order

    @property
    def high_rpm(self) -> float:
        """Engine speed at the upper half-power point."""
        return 60.0 * self.high_hz / self.engine_order

    @property
    def main(self) -> bool:
        """Whether a careful listener would name this band; others may be found or not."""
        return self.whole and self.order_to_noise_db >= 12.0 and self.below_strongest_db <= 10.0


def drone_peaks(
    rise_db: Callable[[FloatArray], FloatArray],
) -> Iterator[tuple[float, float, float]]:
    """Peak, lower and upper half-power frequency of each maximum of 6 dB or more."""
    frequency_hz = np.geomspace(*_SEARCH_HZ, 15_000)
    rise = rise_db(frequency_hz)
    peaks = np.flatnonzero((rise[1:-1] > rise[:-2]) & (rise[1:-1] >= rise[2:])) + 1
    for peak in peaks[rise[peaks] >= DRONE_RISE_DB]:
        below = rise < rise[peak] - 3.0
        left, right = np.flatnonzero(below[:peak]), np.flatnonzero(below[peak:])
        if left.size and right.size:
            yield (
                float(frequency_hz[peak]),
                float(frequency_hz[left[-1]]),
                float(frequency_hz[peak + right[0]]),
            )


class CarModel:
    """Noise-free steady levels of every order, with and without the resonators.

    Levels are 10 lg of a mean square in full scale squared, at full load.
    """

    def __init__(self, spec: DriveSpec, pulses: PulseTrain) -> None:
        rate_hz = spec.sample_rate_hz
        self.spec = spec
        self.pulses = pulses
        self.smooth = SmoothFilter(spec.smooth, rate_hz)
        self.exhaust: ResonatorBank | LineFilter = (
            LineFilter(spec.exhaust, rate_hz)
            if isinstance(spec.exhaust, WholeExhaust)
            else ResonatorBank(spec.exhaust, rate_hz)
        )
        self.cabin = ResonatorBank(spec.cabin, rate_hz)
        self.branch = None if spec.branch is None else BranchFilter(spec.branch, rate_hz)
        self.noise = CabinNoise(spec.noise, self.cabin, rate_hz)
        self.source_gain_pa = self._source_gain()
        self.full_scale_pa = np.sqrt(2.0) * pressure_pa(spec.full_scale_db_spl)

    def _source_gain(self) -> float:
        """Pressure per unit of pulse that gives the firing order the level asked for."""
        firing_order = self.spec.source.cylinders / 2.0
        rpm = np.array([REFERENCE_RPM])
        unit = self.pulses.order_mean_square(firing_order, rpm)
        unit = unit * np.abs(self.smooth.response(firing_order * rpm / 60.0)) ** 2
        return float(pressure_pa(self.spec.source.level_db_spl) / np.sqrt(unit[0]))

    def rise_db(self, frequency_hz: FloatArray) -> FloatArray:
        """How much the resonators (and the branches) add at a frequency."""
        response = self.exhaust.response(frequency_hz) * self.cabin.response(frequency_hz)
        if self.branch is not None:
            response = response * self.branch.response(frequency_hz)
        return np.asarray(20.0 * np.log10(np.abs(response)))

    def trend_db(self, order: float, rpm: FloatArray) -> FloatArray:
        """Level of an order with every resonator switched off."""
        smooth = np.abs(self.smooth.response(order * rpm / 60.0)) * self.source_gain_pa
        mean_square = self.pulses.order_mean_square(order, rpm) * smooth**2
        floor = 1e-20 * self.full_scale_pa**2
        return np.asarray(10.0 * np.log10((mean_square + floor) / self.full_scale_pa**2))

    def level_db(self, order: float, rpm: FloatArray) -> FloatArray:
        """Level of an order."""
        return self.trend_db(order, rpm) + self.rise_db(order * rpm / 60.0)

    def noise_density_db(self, frequency_hz: float, rpm: float) -> float:
        """Level of the noise in 1 Hz at this rpm, in the highest gear of the drive."""
        frequency = np.array([frequency_hz])
        gears = [leg.gear for leg in self.spec.legs if leg.gear is not None]
        speed = self.spec.gearing.speed_m_s(rpm, max(gears)) if gears else 0.0
        varying = self.pulses.variation_density(frequency, np.array([rpm]))
        varying = varying * (np.abs(self.smooth.response(frequency)) * self.source_gain_pa) ** 2
        varying = varying * 10.0 ** (self.rise_db(frequency) / 10.0)
        total = float((varying + self.noise.density(frequency, speed))[0])
        return float(10.0 * np.log10(total / self.full_scale_pa**2))

    def order_to_noise_db(self, order: float, rpm: float) -> float:
        """How far an order stands out of the noise of a 2 Hz bandwidth."""
        frequency_hz = order * rpm / 60.0
        noise_db = self.noise_density_db(frequency_hz, rpm) + 10.0 * np.log10(NOISE_BANDWIDTH_HZ)
        return float(self.level_db(order, np.array([rpm]))[0] - noise_db)

    def band_mean_square(self, order: float, low_rpm: float, high_rpm: float) -> float:
        """Mean square of an order over a stretch of rpm, every rpm counting the same."""
        rpm = np.linspace(low_rpm, high_rpm, 400)
        return float(np.mean(10.0 ** (self.level_db(order, rpm) / 10.0)))

    @cached_property
    def bands(self) -> tuple[TrueBand, ...]:
        """Every order's way, in part or whole, through every resonance; loudest first."""
        low_rpm, high_rpm = self.spec.driven_rpm
        found = [
            self._band(order, *edges)
            for edges in drone_peaks(self.rise_db)
            for order in ORDERS
            if 60.0 * edges[2] / order > low_rpm and 60.0 * edges[1] / order < high_rpm
        ]
        return tuple(sorted(found, key=lambda band: -band.level_db))

    def _band(self, order: float, peak_hz: float, low_hz: float, high_hz: float) -> TrueBand:
        rpm = 60.0 * peak_hz / order
        at_peak = {n: float(self.level_db(n, np.array([rpm]))[0]) for n in ORDERS}
        swept = self.spec.swept_rpm
        return TrueBand(
            engine_order=order,
            peak_hz=peak_hz,
            low_hz=low_hz,
            high_hz=high_hz,
            rise_db=float(self.rise_db(np.array([peak_hz]))[0]),
            level_db=at_peak[order],
            order_to_noise_db=self.order_to_noise_db(order, rpm),
            below_strongest_db=max(at_peak.values()) - at_peak[order],
            whole=swept[0] < 60.0 * low_hz / order and 60.0 * high_hz / order < swept[1],
        )
