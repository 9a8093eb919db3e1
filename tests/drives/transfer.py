"""The way from the exhaust valve to the microphone, as recursive filters and their response."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from analysis.basics.arrays import FloatArray
from tests.drives.spec import Resonator, SideBranch, SmoothTransfer, WholeExhaust
from tests.garage.level import outlet_flow

ComplexArray = NDArray[np.complex128]


class SmoothFilter:
    """High pass, low pass and one broad hump; nothing in it is narrower than two octaves."""

    def __init__(self, spec: SmoothTransfer, sample_rate_hz: float) -> None:
        def turned(frequency_hz: float) -> float:
            return 2.0 * sample_rate_hz * float(np.tan(np.pi * frequency_hz / sample_rate_hz))

        high, low, hump = map(turned, (spec.high_pass_hz, spec.low_pass_hz, spec.hump_hz))
        lift = 10.0 ** (spec.hump_db / 40.0)
        sections = (
            ((1.0, 0.0), (1.0, high)),
            ((low**2,), (1.0, 2.0 * low, low**2)),
            (
                (1.0, hump * lift / spec.hump_q, hump**2),
                (1.0, hump / (lift * spec.hump_q), hump**2),
            ),
        )
        self._sos = _second_order_sections(sections, sample_rate_hz)
        self._sample_rate_hz = sample_rate_hz

    def apply(self, sound: FloatArray) -> FloatArray:
        """Filter in time, started at rest on the first value so that there is no step."""
        start = signal.sosfilt_zi(self._sos) * sound[0]
        return np.asarray(signal.sosfilt(self._sos, sound, zi=start)[0])

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Complex response."""
        return sos_response(self._sos, frequency_hz, self._sample_rate_hz)


class ResonatorBank:
    """1 + sum of g_k R_k(f), each R_k a two-pole resonator that rings up and down in time."""

    def __init__(self, resonators: Sequence[Resonator], sample_rate_hz: float) -> None:
        self._parts = [_resonator_section(item, sample_rate_hz) for item in resonators]
        self._sample_rate_hz = sample_rate_hz

    def apply(self, sound: FloatArray) -> FloatArray:
        """Filter in time."""
        out = sound.copy()
        for part in self._parts:
            out += signal.sosfilt(part, sound)
        return out

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Complex response."""
        total = np.ones(np.shape(frequency_hz), dtype=np.complex128)
        for part in self._parts:
            total += sos_response(part, frequency_hz, self._sample_rate_hz)
        return total


_LINE_HZ = (5.0, 1000.0)  # beyond these a whole exhaust passes as at them
_LINE_STEP_HZ = 0.05  # a hundredth of its narrowest resonance
_MIDDLE_HZ = (40.0, 300.0)


class LineFilter:
    """A whole exhaust, by the waves in its pipes; bare, its middle is at 0 dB."""

    def __init__(self, spec: WholeExhaust, sample_rate_hz: float) -> None:
        self._frequency_hz = np.arange(*_LINE_HZ, _LINE_STEP_HZ)
        rpm = np.full(self._frequency_hz.size, spec.at_rpm)
        bare = np.abs(outlet_flow(spec.car, self._frequency_hz, rpm))
        low_hz, high_hz = _MIDDLE_HZ
        middle = (self._frequency_hz > low_hz) & (self._frequency_hz < high_hz)
        flow = outlet_flow(spec.car, self._frequency_hz, rpm, spec.branches)
        # level and phase between the points: real and imaginary parts would dent a peak
        level = np.log(np.abs(flow) / np.median(bare[middle]))
        self._flow = level + 1j * np.unwrap(np.angle(flow))
        self._sample_rate_hz = sample_rate_hz

    def apply(self, sound: FloatArray) -> FloatArray:
        """Filter in the frequency domain; a second of silence keeps the end off the start."""
        count = sound.size + round(self._sample_rate_hz)
        frequency_hz = np.asarray(np.fft.rfftfreq(count, 1.0 / self._sample_rate_hz), np.float64)
        passed = np.fft.rfft(sound, count) * self.response(frequency_hz)
        return np.asarray(np.fft.irfft(passed, count)[: sound.size])

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Complex response."""
        return np.asarray(np.exp(np.interp(frequency_hz, self._frequency_hz, self._flow)))


class BranchFilter:
    """What a closed side branch lets through, 1 / (1 + Y Z / 2), as a comb filter.

    With w the wave that comes back from the branch's end, one round trip of 1/(2 f0) later, the
    branch's impedance over its own wave impedance is (1 + w)/(1 - w) plus the mouth resistance r,
    so that for an area ratio m the wave let through is
    [(1 + r) + (1 - r) w] / [(1 + r + m/2) + (1 - r - m/2) w].
    """

    def __init__(self, spec: SideBranch, sample_rate_hz: float) -> None:
        back = (1.0 - spec.round_trip_loss) * _delay_taps(sample_rate_hz / (2.0 * spec.tuned_hz))
        lead = np.zeros(back.size)
        lead[0] = 1.0
        resistance, half = spec.mouth_resistance, spec.area_ratio / 2.0
        self._b = (1.0 + resistance) * lead + (1.0 - resistance) * back
        self._a = (1.0 + resistance + half) * lead + (1.0 - resistance - half) * back
        self._sample_rate_hz = sample_rate_hz

    def apply(self, sound: FloatArray) -> FloatArray:
        """Filter in time."""
        return np.asarray(signal.lfilter(self._b, self._a, sound))

    def response(self, frequency_hz: FloatArray) -> ComplexArray:
        """Complex response."""
        return np.asarray(
            signal.freqz(self._b, self._a, worN=frequency_hz, fs=self._sample_rate_hz)[1]
        )


def _resonator_section(spec: Resonator, sample_rate_hz: float) -> FloatArray:
    """g R(s): band-pass part for the real share of g, low-pass part for the turned share."""
    omega = 2.0 * sample_rate_hz * float(np.tan(np.pi * spec.frequency_hz / sample_rate_hz))
    in_phase = spec.gain * np.cos(spec.phase_rad) * omega / spec.q
    turned = spec.gain * np.sin(spec.phase_rad) * omega**2 / spec.q
    section = ((in_phase, turned), (1.0, omega / spec.q, omega**2))
    return _second_order_sections((section,), sample_rate_hz)


def _second_order_sections(
    sections: Sequence[tuple[Sequence[float], Sequence[float]]], sample_rate_hz: float
) -> FloatArray:
    rows = []
    for numerator, denominator in sections:
        b, a = signal.bilinear(numerator, denominator, sample_rate_hz)
        rows.append(np.concatenate([np.pad(b, (0, 3 - b.size)), np.pad(a, (0, 3 - a.size))]))
    return np.asarray(rows, dtype=np.float64)


def sos_response(sos: FloatArray, frequency_hz: FloatArray, sample_rate_hz: float) -> ComplexArray:
    """Complex response of second-order sections [shape=(n, 6)] at each frequency.

    ``scipy.signal.freqz_sos`` gives the same, but takes most of the time of making a drive.
    """
    delay = np.exp(-2j * np.pi * np.asarray(frequency_hz) / sample_rate_hz)
    powers = np.stack([np.ones_like(delay), delay, delay**2])
    return np.asarray(np.prod((sos[:, :3] @ powers) / (sos[:, 3:] @ powers), axis=0))


def _delay_taps(delay_samples: float) -> FloatArray:
    """Third-order Lagrange interpolation of a delay that is not a whole number of samples."""
    first = int(np.floor(delay_samples)) - 1
    taps = np.zeros(first + 4)
    for k in range(4):
        others = [m for m in range(4) if m != k]
        taps[first + k] = np.prod([(delay_samples - first - m) / (k - m) for m in others])
    return taps
