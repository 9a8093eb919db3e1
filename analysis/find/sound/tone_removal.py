"""Steady tones taken out of the sound, each by its own slow swing.

A tone's size and phase are followed with a Hann window of half a second. An order that sweeps by
does not stay that long; where one makes the swing grow or shrink, the swing on either side stands
for it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from analysis.basics.arrays import FloatArray
from analysis.drive import SampleBlock
from analysis.find.sound.working_copy import WorkingCopy
from analysis.findings import SteadyTone

# judgement: a shorter window takes more of an order that crosses, a longer one loses a fan that
# wanders.
_WINDOW_S = 0.5
_HOP_S = 0.125  # tells the frequency within 4 Hz, two lines of the picture
_AT_ONCE = 400  # judgement: frames; time against memory, no sample changes
# judgement: a tenth of the time noise is below 0.39 of its median size (Rayleigh). Hums had 0.7 to
# 0.9 there, notes of music, which come and go, 0.02 to 0.5; measured on road drives.
_LEAST_SIZE, _SELDOM = 0.55, 0.1
_CROSSED = 0.3  # of its usual size more or less: an order is on it
_HARMONICS = 8  # judgement: higher ones of the mains lie above the orders that drone

Turn = Callable[[FloatArray], FloatArray]  # phase in radians at any times


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneSwing:
    """A tone's complex size beside its turning phase, at the middle of each window."""

    turn: Turn
    time_s: FloatArray
    size: NDArray[np.complex128]

    def at(self, time_s: FloatArray) -> FloatArray:
        """Its sound at any times, same shape."""
        turn = self.turn(time_s)
        # by parts: an exponential of complex numbers takes several times as long
        return np.asarray(
            np.interp(time_s, self.time_s, self.size.real) * np.cos(turn)
            - np.interp(time_s, self.time_s, self.size.imag) * np.sin(turn)
        )

    def times(self, multiple: int) -> Turn:
        """Give the phase of one of its harmonics, which wanders with it."""
        phase = np.unwrap(np.angle(self.size))
        return lambda time_s: multiple * (self.turn(time_s) + np.interp(time_s, self.time_s, phase))


def take_out(copy: WorkingCopy, tones: Sequence[SteadyTone]) -> tuple[SteadyTone, ...]:
    """Let ``copy`` be read without the tones, and give those that were steady enough for that.

    Each goes with its harmonics, which may be too soft to be seen over many engine speeds.
    """
    steady: list[SteadyTone] = []
    swings: list[ToneSwing] = []

    def unwanted(start: int, count: int) -> SampleBlock:
        time_s = (start + np.arange(count)) / copy.sample_rate_hz
        whole = np.sum([swing.at(time_s) for swing in swings], axis=0)
        return np.asarray(whole, dtype=np.float32)

    # from the lowest on, each in what the others left, so that nothing is taken out twice
    for tone in sorted(tones, key=lambda each: each.frequency_hz):
        hz = _refined_hz(copy, tone.frequency_hz)
        for swing in _steady_swings(copy, [_turning_at(hz)]):
            steady.append(replace(tone, frequency_hz=hz))
            harmonics = [swing.times(k) for k in range(2, _HARMONICS)]
            swings += [swing, *_steady_swings(copy, harmonics)]
        copy.take_out(unwanted)
    return tuple(steady)


def _turning_at(frequency_hz: float) -> Turn:
    return lambda time_s: 2.0 * np.pi * frequency_hz * time_s


def _refined_hz(copy: WorkingCopy, near_hz: float) -> float:
    """Frequency of a tone within 4 Hz of ``near_hz``, by how its phase advances."""
    _, (size,) = _beside(copy, [_turning_at(near_hz)])
    # all windows weighed by their size, so that those in which it is faint say little
    advance = np.angle(np.vdot(size[:-1], size[1:]))
    return near_hz + float(advance) / (2.0 * np.pi * _HOP_S)


def _steady_swings(copy: WorkingCopy, turns: Sequence[Turn]) -> list[ToneSwing]:
    """Follow what turns with each phase, but noise and notes, whose size is never the same."""
    time_s, sizes = _beside(copy, turns)
    swings = (_steady_swing(turn, time_s, size) for turn, size in zip(turns, sizes, strict=True))
    return [swing for swing in swings if swing is not None]


def _steady_swing(turn: Turn, time_s: FloatArray, size: NDArray[np.complex128]) -> ToneSwing | None:
    apart = round(_WINDOW_S / _HOP_S)  # two windows that share nothing
    usual = float(np.median(np.abs(size))) if size.size > apart else 0.0
    if usual == 0.0 or np.quantile(np.abs(size), _SELDOM) < _LEAST_SIZE * usual:
        return None
    alone = np.abs(np.abs(size) / usual - 1.0) < _CROSSED
    # and not in a window that an order leans into
    alone = binary_erosion(alone, iterations=apart // 2, border_value=1)
    # an order on it everywhere: then its swing as it is, rather than none
    if not alone.any():
        return ToneSwing(turn=turn, time_s=time_s, size=size)
    return ToneSwing(turn=turn, time_s=time_s[alone], size=size[alone])


def _beside(copy: WorkingCopy, turns: Sequence[Turn]) -> tuple[FloatArray, NDArray[np.complex128]]:
    """Give the middle of each window, and the complex size there of what turns with each phase.

    The latter is [shape=(n_turns, n_windows)]. The sound is read once for all: what was taken out
    of it before is worked out anew at each reading.
    """
    rate = copy.sample_rate_hz
    length, hop = round(_WINDOW_S * rate), round(_HOP_S * rate)
    window = np.hanning(length + 1)[:-1]
    window *= 2.0 / window.sum()
    count = max(0, (copy.frame_count - length) // hop + 1)
    sizes = np.empty((len(turns), count), dtype=np.complex128)
    for first in range(0, count, _AT_ONCE):
        frames = min(_AT_ONCE, count - first)
        samples = copy.read(first * hop, (frames - 1) * hop + length)
        time_s = (first * hop + np.arange(samples.size)) / rate
        for turn, size in zip(turns, sizes, strict=True):
            stopped = samples * np.exp(-1j * turn(time_s))
            frames_of = np.lib.stride_tricks.sliding_window_view(stopped, length)[::hop]
            size[first : first + frames] = frames_of @ window
    middle_s = np.asarray((0.5 * length + hop * np.arange(count)) / rate)
    return middle_s, sizes
