"""The exhaust as a row of combustion pulses, and the exact Fourier series of such a row."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import FloatArray
from tests.drives.motion import Motion
from tests.drives.spec import Source

REFERENCE_RPM = 2000.0
_PULSE_TIME_CONSTANTS = 18.0  # after this the pulse has fallen to 1e-6 of its peak


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseTrain:
    """Pulses p(x) = x^2 exp(-x/T) / (2 T^3), x in revolutions since the valve opened.

    The spectrum of one pulse is 1 / (1 + j 2 pi h T)^3 at order h: it falls with order.
    ``cylinder_gain`` [shape=(n_pulses_per_cycle,)] is the imbalance drawn for this engine.
    """

    source: Source
    cylinder_gain: FloatArray

    @classmethod
    def build(cls, source: Source, rng: np.random.Generator) -> PulseTrain:
        """Draw the engine's imbalance."""
        gain = 1.0 + source.cylinder_imbalance * rng.normal(size=len(source.firing_deg))
        return cls(source=source, cylinder_gain=gain)

    def strength(self, rpm: FloatArray) -> FloatArray:
        """Pressure of the pulses at full load, relative to 2,000 rpm."""
        return np.asarray((rpm / REFERENCE_RPM) ** self.source.rpm_exponent)

    def time_constant(self, rpm: FloatArray) -> FloatArray:
        """T in revolutions."""
        growth = (rpm / REFERENCE_RPM) ** self.source.pulse_rpm_exponent
        return np.asarray(self.source.pulse_revolutions * growth)

    def order_mean_square(self, order: float, rpm: FloatArray) -> FloatArray:
        """Mean square of one order of the endless row at steady speed and full load."""
        angles = np.radians(np.asarray(self.source.firing_deg))
        phasor = abs(np.sum(self.cylinder_gain * np.exp(-1j * order * angles))) / 2.0
        return np.asarray(2.0 * phasor**2 * self._pulse_power(order, rpm) * self.strength(rpm) ** 2)

    def variation_density(self, frequency_hz: FloatArray, rpm: FloatArray) -> FloatArray:
        """One-sided spectral density (per Hz) that pulse-to-pulse variation adds."""
        revs_per_s = rpm / 60.0
        pulses_per_s = len(self.source.firing_deg) / 2.0 * revs_per_s
        one_pulse = self._pulse_power(frequency_hz / revs_per_s, rpm) / revs_per_s**2
        return np.asarray(
            2.0
            * pulses_per_s
            * self.source.cycle_variation**2
            * float(np.mean(self.cylinder_gain**2))
            * self.strength(rpm) ** 2
            * one_pulse
        )

    def _pulse_power(self, order: float | FloatArray, rpm: FloatArray) -> FloatArray:
        turns = 2.0 * np.pi * np.asarray(order) * self.time_constant(rpm)
        return np.asarray((1.0 + turns**2) ** -3)

    def sound(self, motion: Motion, time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Pressure of the row at each time, every pulse at its own crank angle and strength."""
        per_cycle = len(self.source.firing_deg)
        fired_at = np.asarray(self.source.firing_deg) / 360.0
        phase = motion.revolutions(time_s)
        cycles = int(phase[-1] // 2) + 2
        # One cycle before the start, so that the sound does not begin with a bang.
        all_fired_at = (2.0 * np.arange(-1, cycles)[:, None] + fired_at[None, :]).ravel()
        fired_s = np.interp(all_fired_at, phase, time_s)
        rpm = motion.rpm(fired_s)
        width = self.time_constant(rpm)
        area = (
            self.strength(rpm) * motion.load_at(fired_s) * np.tile(self.cylinder_gain, cycles + 1)
        )
        area *= 1.0 + self.source.cycle_variation * rng.normal(size=area.size)

        latest = np.searchsorted(all_fired_at, phase, side="right") - 1
        overlap = int(np.ceil(_PULSE_TIME_CONSTANTS * width.max() / np.diff(all_fired_at).min()))
        pressure = np.zeros(time_s.size)
        for back in range(min(overlap, per_cycle) + 1):
            index = np.maximum(latest - back, 0)
            age = (phase - all_fired_at[index]) / width[index]
            pressure += (area / (2.0 * width))[index] * age**2 * np.exp(-age)
        return pressure
