"""Lines in the cabin sound that keep step with the pulses, whatever the speed.

The sound is laid out over the pulses instead of over time, stretch by stretch, so that whatever
turns with the engine becomes a sharp line at a fixed number of periods from pulse to pulse. How far
a line stands above its neighbourhood is averaged over bins of speed, each counting the same, so
that a resonance, which lifts one order at one speed, cannot pass for a strong order.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import math
from collections.abc import Sequence

import numpy as np

from logger.arrays import FloatArray, Samples
from logger.sources.pulse.train import Pulse

# judgement: order 12 of 9,000 rpm is 1,800 Hz, over the half; the loud lines lie far below. Longer
# stretches part the lines better and follow a changing speed worse. Too few leave the pulses a turn
# open, which is told, never guessed.
_REDUCED_HZ = 3000.0
_LASTING_S = 3.0
_PULSES = 48  # a stretch is a multiple of these: all lines then fall on bins
_GRID = 24  # lines are at multiples of 1/24: of half an order for all engines
_MOST_PERIODS = 24
_NEIGHBOURS = 0.25  # periods to either side
_KEPT_S = 30.0
_BINS_PER_OCTAVE = 4
_LEAST_BINS = 3
_LEAST_STRETCHES = 6
_LEAST_SPAN = 1.5  # of speed


class OrderLines:
    """Collects stretches of sound and pulses."""

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._factor = max(1, round(sample_rate_hz / _REDUCED_HZ))
        self._rest = np.empty(0)
        self._reduced = np.empty(0)
        self._reduced_from = 0.0  # frame of the first reduced sample
        self._pulses: list[Pulse] = []
        self._sums: dict[int, tuple[int, FloatArray]] = {}  # by bin of speed
        self._rates: list[float] = []

    @property
    def is_enough(self) -> bool:
        """Whether the speed varied enough to believe what stands out."""
        if len(self._rates) < _LEAST_STRETCHES or len(self._sums) < _LEAST_BINS:
            return False
        return max(self._rates) >= _LEAST_SPAN * min(self._rates)

    def prominence_db(self, periods: float) -> float | None:
        """Level above the neighbourhood of the line at so many periods from pulse to pulse."""
        index = round(periods * _GRID)
        if abs(index - periods * _GRID) > 1e-6 or not 0 < index <= _MOST_PERIODS * _GRID:
            return None
        means = [total[index] / count for count, total in self._sums.values()]
        known = [mean for mean in means if math.isfinite(mean)]
        return sum(known) / len(known) if len(known) >= _LEAST_BINS else None

    def break_off(self, first_frame: int) -> None:
        """Sound goes on at ``first_frame`` and has nothing to do with what was before."""
        self._rest = np.empty(0)
        self._reduced = np.empty(0)
        self._reduced_from = first_frame + 0.5 * (self._factor - 1)
        self._pulses.clear()

    def hear(self, samples: Samples) -> None:
        """Take the next samples [shape=(n,)] of the cabin sound."""
        joined = np.concatenate([self._rest, samples])
        whole = joined.size // self._factor * self._factor
        self._rest = joined[whole:]
        means = joined[:whole].reshape(-1, self._factor).mean(axis=1)
        self._reduced = np.concatenate([self._reduced, means])
        surplus = self._reduced.size - round(_KEPT_S * self._rate_hz / self._factor)
        if surplus > 0:
            self._reduced = self._reduced[surplus:]
            self._reduced_from += surplus * self._factor

    def note(self, pulses: Sequence[Pulse]) -> None:
        """Take the next pulses; the sound up to them must have been heard."""
        for pulse in pulses:
            if self._pulses and self._pulses[0].train != pulse.train:
                self._pulses.clear()
            self._pulses.append(pulse)
            if self._is_whole_stretch():
                self._measure()
                self._pulses = [pulse]

    def _is_whole_stretch(self) -> bool:
        first, last = self._pulses[0], self._pulses[-1]
        count = last.number - first.number
        is_long = last.frame - first.frame >= _LASTING_S * self._rate_hz
        return is_long and count >= _PULSES and first.is_sound and last.is_sound

    def _measure(self) -> None:
        """Work out the level of each line above its neighbourhood in the stretch."""
        first, last = self._pulses[0], self._pulses[-1]
        # a whole number of cycles, so that lines fall on bins and do not leak
        count = (last.number - first.number) // _PULSES * _PULSES
        numbers = np.array([pulse.number for pulse in self._pulses], dtype=np.float64)
        frames = np.array([pulse.frame for pulse in self._pulses])
        if frames[0] < self._reduced_from:
            return
        rate = (last.number - first.number) / (last.frame - first.frame) * self._rate_hz
        per_pulse = math.ceil(_REDUCED_HZ / rate)
        at_numbers = numbers[0] + np.arange(count * per_pulse) / per_pulse
        # resampled over the crank's angle: a changing speed no longer smears a line
        at = (np.interp(at_numbers, numbers, frames) - self._reduced_from) / self._factor
        sound = np.interp(at, np.arange(self._reduced.size), self._reduced)
        power = np.abs(np.fft.rfft(sound * np.hanning(sound.size))) ** 2
        levels_db = _above_neighbours_db(power, count // _GRID, round(_NEIGHBOURS * count))
        levels_db[: _GRID // 8] = np.nan
        highest = int(0.35 * _REDUCED_HZ / rate * _GRID)  # what the reduction leaves whole
        levels_db[highest + 1 :] = np.nan
        self._rates.append(rate)
        speed = round(_BINS_PER_OCTAVE * math.log2(rate))
        total_count, total = self._sums.get(speed, (0, np.zeros_like(levels_db)))
        self._sums[speed] = (total_count + 1, total + levels_db)


def _above_neighbours_db(power: FloatArray, step: int, reach: int) -> FloatArray:
    """Level of every ``step``-th bin above the median of the bins around it."""
    levels_db = np.full(_MOST_PERIODS * _GRID + 1, np.nan)
    for index in range(1, levels_db.size):
        at = index * step
        around = power[max(1, at - reach) : at + reach + 1]
        if at + reach >= power.size:
            break
        floor = float(np.median(around))
        if floor > 0.0 and power[at] > 0.0:
            levels_db[index] = 10.0 * math.log10(power[at] / floor)
    return levels_db
