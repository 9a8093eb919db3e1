"""What is heard in the cabin of what an exhaust lets out: a mode of the cabin, and the body's hum.

The engine shakes the body through its mounts and hangers, and its intake hums too: none of that
passes a branch in the pipe. It is taken as one more wave of the same order, with a slope, a phase
and a lead of its own over what comes from the outlet. A mode of the cabin, by contrast, makes both
louder alike, so a branch works there as well as elsewhere; but a drone that a mode makes says
nothing of the pipe.

Source of the mode: a resonator in parallel to the rest, as of any room below its first few modes;
Kuttruff, Room Acoustics, ch. 3, from memory.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass

import numpy as np

from analysis.basics.arrays import ComplexArray, FloatArray

# decibels of amplitude per octave, over the exponent of the frequency: a definition
_DB_PER_OCTAVE = 20.0 * np.log10(2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cabin:
    """Guesses at one cabin; arrays [shape=(n_members,)].

    Attributes
    ----------
    beside : what comes another way over what comes from the outlet, at the drone's frequency
    slope_db : of its size, per octave
    lead_s : how much earlier it comes
    mode_hz, mode_gain, mode_q : of the mode: it lifts its frequency by 1 + gain
    """

    beside: ComplexArray
    slope_db: FloatArray
    lead_s: FloatArray
    mode_hz: FloatArray
    mode_gain: FloatArray
    mode_q: FloatArray

    def lifted(self, frequency_hz: FloatArray) -> ComplexArray:
        """Say what the mode makes of any sound, as a factor, [shape=(n_members, n_frequency)]."""
        ratio = frequency_hz / self.mode_hz[:, None]
        more = self.mode_gain[:, None] / (1.0 + 1j * self.mode_q[:, None] * (ratio - 1.0 / ratio))
        return np.asarray(1.0 + more)

    def other_way(
        self, outlet: ComplexArray, frequency_hz: FloatArray, drone_hz: float
    ) -> ComplexArray:
        """Say what comes another way over ``outlet``, [shape=(n_members, n_frequency)] both."""
        at = int(np.abs(frequency_hz - drone_hz).argmin())
        turn = 2.0 * np.pi * (frequency_hz - frequency_hz[at]) * self.lead_s[:, None]
        size = (frequency_hz / frequency_hz[at]) ** (self.slope_db[:, None] / _DB_PER_OCTAVE)
        at_drone = self.beside * np.abs(outlet[:, at])
        return np.asarray(at_drone[:, None] * size * np.exp(1j * turn) / outlet)
