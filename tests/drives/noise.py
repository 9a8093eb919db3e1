"""Road, wind, microphone noise and a tone locked to the road, with their spectral densities."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
from scipy import signal
from scipy.interpolate import CubicSpline

from analysis.basics.arrays import FloatArray
from tests.drives.motion import Motion
from tests.drives.spec import Noise, RoadTone
from tests.drives.transfer import ResonatorBank, sos_response

REFERENCE_SPEED_M_S = 25.0
REFERENCE_PA = 20e-6
_ROAD_EXPONENT = 1.75  # pressure over speed: 35 dB per decade
_WIND_EXPONENT = 3.0  # 60 dB per decade
_GUST = 0.25  # standard deviation of the wind's slow swell


def pressure_pa(level_db_spl: float) -> float:
    """Root mean square pressure of a level."""
    return float(REFERENCE_PA * 10.0 ** (level_db_spl / 20.0))


class CabinNoise:
    """Noise at the microphone; road noise passes the cabin as the exhaust does."""

    def __init__(self, spec: Noise, cabin: ResonatorBank, sample_rate_hz: float) -> None:
        self._spec = spec
        self._cabin = cabin
        self._rate_hz = sample_rate_hz
        self._road_sos = _unit_power(_pink_sos(sample_rate_hz), sample_rate_hz)
        wind = signal.butter(2, [5.0, 25.0], btype="bandpass", fs=sample_rate_hz, output="sos")
        self._wind_sos = _unit_power(np.asarray(wind), sample_rate_hz)

    def sound(self, motion: Motion, time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
        """Pressure in Pa."""
        speed = motion.speed_at(time_s) / REFERENCE_SPEED_M_S
        road = self._white(time_s.size, rng) * speed**_ROAD_EXPONENT
        road = self._cabin.apply(np.asarray(signal.sosfilt(self._road_sos, road)))
        wind = self._white(time_s.size, rng) * (speed * self._gusts(time_s, rng)) ** _WIND_EXPONENT
        wind = np.asarray(signal.sosfilt(self._wind_sos, wind))
        own = rng.normal(size=time_s.size)
        return np.asarray(
            pressure_pa(self._spec.road_db_spl) * road
            + pressure_pa(self._spec.wind_db_spl) * wind
            + pressure_pa(self._spec.self_db_spl) * own
        )

    def density(self, frequency_hz: FloatArray, speed_m_s: float) -> FloatArray:
        """One-sided spectral density in Pa^2/Hz at a steady road speed."""
        speed = speed_m_s / REFERENCE_SPEED_M_S
        road = self._power(self._road_sos, frequency_hz) * speed ** (2.0 * _ROAD_EXPONENT)
        road *= np.abs(self._cabin.response(frequency_hz)) ** 2
        wind = self._power(self._wind_sos, frequency_hz) * speed ** (2.0 * _WIND_EXPONENT)
        return np.asarray(
            pressure_pa(self._spec.road_db_spl) ** 2 * road
            + pressure_pa(self._spec.wind_db_spl) ** 2 * wind
            + pressure_pa(self._spec.self_db_spl) ** 2 * 2.0 / self._rate_hz
        )

    def _white(self, count: int, rng: np.random.Generator) -> FloatArray:
        """White noise of one-sided density 1 per Hz."""
        return np.asarray(rng.normal(size=count) * np.sqrt(self._rate_hz / 2.0))

    def _power(self, sos: FloatArray, frequency_hz: FloatArray) -> FloatArray:
        return np.asarray(np.abs(sos_response(sos, frequency_hz, self._rate_hz)) ** 2)

    @staticmethod
    def _gusts(time_s: FloatArray, rng: np.random.Generator) -> FloatArray:
        grid_s = np.arange(0.0, time_s[-1] + 2.0, 1.0)
        return np.interp(time_s, grid_s, np.exp(_GUST / 3.0 * rng.normal(size=grid_s.size)))


def road_tone(
    spec: RoadTone, motion: Motion, time_s: FloatArray, sample_rate_hz: float
) -> FloatArray:
    """Pressure in Pa of a tone whose frequency follows the road speed."""
    distance = CubicSpline(motion.grid_s, motion.speed_m_s).antiderivative()(time_s)
    tone: FloatArray = np.sqrt(2.0) * np.sin(
        2.0 * np.pi * spec.cycles_per_metre * np.asarray(distance)
    )
    tone *= pressure_pa(spec.level_db_spl) * motion.speed_at(time_s) / REFERENCE_SPEED_M_S
    if spec.resonator is not None:
        tone = ResonatorBank([spec.resonator], sample_rate_hz).apply(tone)
    return tone


def _pink_sos(sample_rate_hz: float) -> FloatArray:
    """About -3 dB per octave from 10 Hz to 2 kHz: poles and zeros by turns, an octave apart."""
    poles = np.array([10.0 * 4.0**k for k in range(5) if 20.0 * 4.0**k < 0.4 * sample_rate_hz])
    turned = 2.0 * sample_rate_hz * np.tan(np.pi * poles / sample_rate_hz)
    turned_zeros = 2.0 * sample_rate_hz * np.tan(2.0 * np.pi * poles / sample_rate_hz)
    z, p, k = signal.bilinear_zpk(-turned_zeros, -turned, 1.0, sample_rate_hz)
    return np.asarray(signal.zpk2sos(z, p, k))


def _unit_power(sos: FloatArray, sample_rate_hz: float) -> FloatArray:
    """Scale so that white noise of density 1 per Hz comes out with power 1 from 5 Hz to 1 kHz."""
    frequency_hz = np.arange(5.0, 1000.0, 0.5)
    response = sos_response(sos, frequency_hz, sample_rate_hz)
    scaled = sos.copy()
    scaled[0, :3] /= np.sqrt(np.sum(np.abs(response) ** 2) * 0.5)
    return scaled
