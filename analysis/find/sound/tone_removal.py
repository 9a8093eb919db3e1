"""Steady tones taken out of the sound, each by its own slow swing.

A tone's size and phase are followed with a Hann window of a second. An order that sweeps by does
not stay that long; where one makes the swing grow, the swing on either side stands for it.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence
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
_WINDOW_S = 1.0
_HOP_S = 0.25  # tells the frequency within 2 Hz, a line of the picture
_WITHIN_HZ = 2.0
_HARMONICS = 9  # judgement: higher ones of the mains lie above the orders that drone
_AT_ONCE = 400  # judgement: frames; time against memory, no sample changes
# judgement: noise in one window tells nothing of the next; a tone keeps nearly all of its phase.
_LEAST_COHERENCE = 0.6
_CROSSED = 0.3  # of its usual size more or less: an order is on it


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneSwing:
    """A tone's complex size every quarter of a second from ``start_s`` on, full scale is 1."""

    frequency_hz: float
    start_s: float
    size: NDArray[np.complex128]

    def at(self, time_s: FloatArray) -> FloatArray:
        """Its sound at any times, same shape; silent outside what was followed."""
        place = self.start_s + _HOP_S * np.arange(self.size.size)
        real = np.interp(time_s, place, self.size.real)
        imaginary = np.interp(time_s, place, self.size.imag)
        turn = 2.0 * np.pi * self.frequency_hz * time_s
        return np.asarray(real * np.cos(turn) - imaginary * np.sin(turn))


def take_out(copy: WorkingCopy, tones: Sequence[SteadyTone]) -> tuple[SteadyTone, ...]:
    """Let ``copy`` be read without the tones, and give those that were steady enough for that."""
    followed = [(tone, _followed(copy, tone.frequency_hz)) for tone in tones]
    steady = [(tone, swing) for tone, swing in followed if swing is not None]
    swings = [swing for _, swing in steady]
    # what hums has harmonics, too soft to be seen over many engine speeds
    for multiple_hz in sorted({k * s.frequency_hz for s in swings for k in range(2, _HARMONICS)}):
        if all(abs(multiple_hz - swing.frequency_hz) > _WITHIN_HZ for swing in swings):
            harmonic = _followed(copy, multiple_hz)
            swings += [] if harmonic is None else [harmonic]
    if swings:
        rate = copy.sample_rate_hz

        def unwanted(start: int, count: int) -> SampleBlock:
            time_s = (start + np.arange(count)) / rate
            return np.sum([swing.at(time_s) for swing in swings], axis=0).astype(np.float32)

        copy.take_out(unwanted)
    return tuple(replace(tone, frequency_hz=swing.frequency_hz) for tone, swing in steady)


def _followed(copy: WorkingCopy, near_hz: float) -> ToneSwing | None:
    """Follow a tone within 2 Hz of ``near_hz``; None for noise that only looks like one."""
    size = _swing(copy, near_hz)
    if size.size < 2:
        return None
    advance = np.vdot(size[:-1], size[1:])
    frequency_hz = near_hz + float(np.angle(advance)) / (2.0 * np.pi * _HOP_S)
    size = _swing(copy, frequency_hz)
    # a second apart, where two windows share nothing
    apart = round(_WINDOW_S / _HOP_S)
    usual = float(np.median(np.abs(size)))
    if size.size <= apart or usual == 0.0:
        return None
    capped = size * np.minimum(1.0, usual / np.maximum(np.abs(size), 1e-30))
    power = float(np.mean(np.abs(capped) ** 2))
    if abs(np.vdot(capped[:-apart], capped[apart:])) < _LEAST_COHERENCE * power * capped.size:
        return None
    return ToneSwing(
        frequency_hz=frequency_hz, start_s=0.5 * _WINDOW_S, size=_uncrossed(size, usual)
    )


def _uncrossed(size: NDArray[np.complex128], usual: float) -> NDArray[np.complex128]:
    """Bridge what an order that crosses does to the swing, and the windows it leans into."""
    alone = np.abs(np.abs(size) / usual - 1.0) < _CROSSED
    alone = binary_erosion(alone, iterations=round(0.5 * _WINDOW_S / _HOP_S), border_value=1)
    if not alone.any():
        return size * np.minimum(1.0, usual / np.maximum(np.abs(size), 1e-30))
    place = np.arange(size.size)
    return np.interp(place, place[alone], size[alone].real) + 1j * np.interp(
        place, place[alone], size[alone].imag
    )


def _swing(copy: WorkingCopy, frequency_hz: float) -> NDArray[np.complex128]:
    """Complex size of what lies within a hertz of a frequency, every quarter of a second."""
    rate = copy.sample_rate_hz
    length, hop = round(_WINDOW_S * rate), round(_HOP_S * rate)
    time_s = np.arange(length) / rate
    window = np.hanning(length + 1)[:-1]
    line = 2.0 / window.sum() * window * np.exp(-2j * np.pi * frequency_hz * time_s)
    rows = np.stack([line.real, line.imag], axis=1).astype(np.float32)
    parts = []
    count = max(0, (copy.frame_count - length) // hop + 1)
    for first in range(0, count, _AT_ONCE):
        frames = min(_AT_ONCE, count - first)
        samples = copy.read(first * hop, (frames - 1) * hop + length)
        windows = np.lib.stride_tricks.sliding_window_view(samples, length)[::hop]
        parts.append(windows @ rows)
    pairs = np.concatenate([np.empty((0, 2)), *parts])
    start_s = hop / rate * np.arange(count)
    turned: NDArray[np.complex128] = (pairs[:, 0] + 1j * pairs[:, 1]) * np.exp(
        -2j * np.pi * frequency_hz * start_s
    )
    return turned
