"""From the engine to the microphone: filters in time, and their response at a frequency."""
# SPDX-License-Identifier: GPL-2.0-or-later

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.roads.spec import FloatArray, Resonance, Way

ComplexArray = NDArray[np.complex128]

_BLOCK_S = 0.1  # judgement: gas is no warmer within it; moving resonances are set once a block


def resonance_response(item: Resonance, frequency_hz: FloatArray) -> ComplexArray:
    """g R(f) of one resonance, R = 1 / (1 + j Q (f/f0 - f0/f))."""
    f = np.maximum(np.asarray(frequency_hz, dtype=np.float64), 1e-3)
    detuned = item.q * (f / item.frequency_hz - item.frequency_hz / f)
    # The turned share goes through the low-pass form, so that the filter stays real.
    in_phase = np.cos(item.phase_rad)
    quadrature = np.sin(item.phase_rad) * (item.frequency_hz / f)
    return np.asarray(item.gain * (in_phase - 1j * quadrature) / (1.0 + 1j * detuned))


def resonances_response(items: Sequence[Resonance], frequency_hz: FloatArray) -> ComplexArray:
    """1 + sum g R(f)."""
    total = np.ones(np.shape(frequency_hz), dtype=np.complex128)
    for item in items:
        total = total + resonance_response(item, frequency_hz)
    return total


def apply_resonances(
    items: Sequence[Resonance],
    sound: FloatArray,
    sample_rate_hz: float,
    warmth: FloatArray | None = None,
) -> FloatArray:
    """Filter in time; ``warmth`` [shape=(n_blocks,)] multiplies the frequencies block by block."""
    out = sound.copy()
    for item in items:
        out = out + _ring(item, sound, sample_rate_hz, warmth)
    return out


def block_times(count: int, sample_rate_hz: float) -> FloatArray:
    """Middles of the blocks in which a resonance stays where it is."""
    block = round(_BLOCK_S * sample_rate_hz)
    return np.asarray((np.arange(-(-count // block)) + 0.5) * block / sample_rate_hz)


def _ring(
    item: Resonance, sound: FloatArray, sample_rate_hz: float, warmth: FloatArray | None
) -> FloatArray:
    if warmth is None:
        b, a = _section(item, 1.0, sample_rate_hz)
        return np.asarray(signal.lfilter(b, a, sound))
    block = round(_BLOCK_S * sample_rate_hz)
    state = np.zeros(2)
    out = np.empty_like(sound)
    for index, factor in enumerate(warmth):
        b, a = _section(item, float(factor), sample_rate_hz)
        here = slice(index * block, (index + 1) * block)
        out[here], state = signal.lfilter(b, a, sound[here], zi=state)
    return out


def _section(
    item: Resonance, factor: float, sample_rate_hz: float
) -> tuple[FloatArray, FloatArray]:
    """Bilinear form by hand, set so that the peak falls where it is meant."""
    frequency_hz = item.frequency_hz * factor
    omega = 2.0 * sample_rate_hz * float(np.tan(np.pi * frequency_hz / sample_rate_hz))
    in_phase = item.gain * np.cos(item.phase_rad) * omega / item.q
    quadrature = item.gain * np.sin(item.phase_rad) * omega**2 / item.q
    k, damping, square = 2.0 * sample_rate_hz, omega / item.q, omega**2
    lead = k**2 + damping * k + square
    b = np.array([quadrature + in_phase * k, 2.0 * quadrature, quadrature - in_phase * k])
    a = np.array([lead, 2.0 * (square - k**2), k**2 - damping * k + square])
    return b / lead, a / lead


def way_response(
    way: Way, frequency_hz: FloatArray, warmth: float | FloatArray = 1.0
) -> ComplexArray:
    """Complex response of a whole way, its delay included."""
    f = np.asarray(frequency_hz, dtype=np.float64)
    high = 1j * f / way.high_pass_hz
    low = 1j * f / way.low_pass_hz
    smooth = high / (1.0 + high) / (1.0 + low) ** 2 * np.exp(-2j * np.pi * f * way.delay_s)
    level = 10.0 ** (way.level_db / 20.0)
    return np.asarray(level * smooth * resonances_response(way.resonances, f / warmth))


def apply_way(
    way: Way, sound: FloatArray, sample_rate_hz: float, warmth: FloatArray | None = None
) -> FloatArray:
    """Filter in time: first-order high-pass, two first-order low-passes, resonances, delay."""
    out = 10.0 ** (way.level_db / 20.0) * sound
    high = _corner(way.high_pass_hz, sample_rate_hz)
    low = _corner(way.low_pass_hz, sample_rate_hz)
    for numerator, pole in (([1.0, 0.0], high), ([low], low), ([low], low)):
        b, a = signal.bilinear(numerator, [1.0, pole], sample_rate_hz)
        out = np.asarray(signal.lfilter(b, a, out))
    out = apply_resonances(way.resonances, out, sample_rate_hz, warmth)
    return delayed(out, way.delay_s * sample_rate_hz)


def delayed(sound: FloatArray, samples: float) -> FloatArray:
    """The sound later by a number of samples that need not be whole."""
    whole = int(samples)
    part = samples - whole
    padded = np.concatenate([np.zeros(whole + 1), sound])
    return np.asarray((1.0 - part) * padded[1:][: sound.size] + part * padded[: sound.size])


def _corner(frequency_hz: float, sample_rate_hz: float) -> float:
    return 2.0 * sample_rate_hz * float(np.tan(np.pi * frequency_hz / sample_rate_hz))
