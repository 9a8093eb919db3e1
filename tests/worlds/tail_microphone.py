"""A second microphone behind the car, and what both hear together; ranges are judgements.

Frames of one engine speed are drawn, each with the load of its moment, wind at the tail, road in
the cabin, and two clocks that were laid on one another by the sound. The ratio of both is taken
over the frames, as any analyser of two channels takes it (H1; Bendat and Piersol, Random Data, ch.
6, from memory).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.garage.gas import FloatArray
from tests.garage.waves import ComplexArray
from tests.worlds.cars import WorldCar, at_outlets, paths

_FRAMES = 8  # of a bin of engine speed, of two sweeps
_LOAD = 0.1  # of the level, from frame to frame: the engine's, so both hear it
_WIND_DB = (-30.0, -14.0)  # at the tail, below the loudest of the order there, in its bandwidth
_ROAD_DB = (-30.0, -20.0)  # in the cabin
_LEAK = (0.0, 0.05)  # of what is heard in the cabin, at the tail
_CLOCKS_OFF_S = 1e-4
_AWAY_M = (0.3, 1.5)
_LEAST_CLEAR = 0.2  # of the power at the tail, whatever the noise between the orders says
_ROUGH, _ROUGH_BINS = 0.08, 6  # of the cabin's answer, beyond its modes


@dataclass(frozen=True, slots=True, kw_only=True)
class BothHeard:
    """Cabin over tail, and how far one frame strays from it; arrays [shape=(n,)]."""

    rpm: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    tail_db: FloatArray


def both_heard(car: WorldCar, rpm: FloatArray, rng: np.random.Generator) -> BothHeard:
    """Drive with both microphones; that at the tail stands as near to each outlet."""
    hz = car.order * rpm / 60.0
    cabin = sum(paths(car, rpm)) * _rough(rpm.size, rng)
    gain = rng.uniform(0.05, 20.0)
    away_s = rng.uniform(*_AWAY_M) / 343.0
    tail = sum(at_outlets(car, rpm)) * gain * np.exp(-2j * np.pi * hz * away_s)
    late_s = rng.uniform(-0.02, 0.02)  # of the second recorder
    leak = rng.uniform(*_LEAK) * np.exp(1j * rng.uniform(-np.pi, np.pi))
    tail = tail + leak * cabin * np.abs(tail).max() / np.abs(cabin).max()
    shape = (_FRAMES, rpm.size)
    load = 1.0 + _LOAD * rng.standard_normal(shape)
    off_s = late_s + _CLOCKS_OFF_S * rng.standard_normal(rpm.size)
    road = np.abs(cabin).max() * 10.0 ** (rng.uniform(*_ROAD_DB) / 20.0)
    wind = np.abs(tail).max() * 10.0 ** (rng.uniform(*_WIND_DB) / 20.0)
    in_cabin = load * cabin + road * _noise(shape, rng)
    at_tail = (load * tail + wind * _noise(shape, rng)) * np.exp(-2j * np.pi * hz * off_s)
    beside = np.mean(np.abs(wind * _noise(shape, rng)) ** 2, axis=0)  # between the orders
    cross = np.mean(in_cabin * np.conj(at_tail), axis=0)
    power, in_cabin_power = (np.mean(np.abs(x) ** 2, axis=0) for x in (at_tail, in_cabin))
    coherence = np.clip(np.abs(cross) ** 2 / (power * in_cabin_power), 1e-6, 1.0)
    sigma = np.sqrt((1.0 - coherence) / (2.0 * _FRAMES * coherence))
    # the wind is in the tail's power, and would make the ratio small where the tail is quiet
    clear = np.maximum(power - beside, _LEAST_CLEAR * power)
    return BothHeard(rpm=rpm, ratio=cross / clear, sigma=sigma, tail_db=10.0 * np.log10(clear))


def true_share(car: WorldCar, rpm: float) -> float:
    """How much of the energy at this engine speed comes from no outlet, of both ways' energies."""
    air, shaken = (abs(x[0]) ** 2 for x in paths(car, np.array([rpm])))
    return float(shaken / (air + shaken))


def _noise(shape: tuple[int, int], rng: np.random.Generator) -> ComplexArray:
    real, imaginary = rng.standard_normal((2, *shape))
    return np.asarray((real + 1j * imaginary) / np.sqrt(2.0))


def _rough(bins: int, rng: np.random.Generator) -> ComplexArray:
    wave = _noise((1, bins + _ROUGH_BINS - 1), rng)[0]
    wavy = np.convolve(wave, np.ones(_ROUGH_BINS) / np.sqrt(_ROUGH_BINS), mode="valid")
    return np.asarray(1.0 + _ROUGH * wavy)
