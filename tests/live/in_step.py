"""Noise played twice, to see whether session time between is the computer's time between."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, correlate, resample_poly, sosfilt

from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.waiting import wait_until

_NOISE_S = 2.0


@dataclass
class Signals:
    """What was played when, on the clock of the computer."""

    recording: Recording
    played_s: list[float] = field(default_factory=list)

    def play(self, card: SoundCard) -> None:
        """Play the next noise, and wait until it is recorded."""
        noise = _noise(len(self.played_s))
        start_s = card.play(resample_poly(noise, card.rate_hz // 100, 441).astype(np.float32))
        self.played_s.append(start_s)
        wait_until(lambda: time.perf_counter() > start_s + _NOISE_S)
        self.recording.wait_for_sound()

    def late_s(self) -> float:
        """How much too late, or too early when negative, the last noise is in the recording."""
        origins_s = self.origins_s()
        return origins_s[0] - origins_s[-1]

    def origins_s(self) -> list[float]:
        """When session time began on the clock of the computer, as each noise tells it."""
        places_s = self.places_s()
        return [played_s - at_s for played_s, at_s in zip(self.played_s, places_s, strict=True)]

    def places_s(self) -> list[float]:
        """Where in session time each noise is."""
        sound, rate_hz = self.recording.sound()
        assert rate_hz == _RATE_HZ
        return [_place_s(sound, _noise(number)) for number in range(len(self.played_s))]


_RATE_HZ = 44100  # PortAudio's own for PulseAudio


def _noise(number: int) -> NDArray[np.float64]:
    white = np.random.default_rng(number).standard_normal(round(_NOISE_S * _RATE_HZ))
    low_pass = butter(4, 4000.0, fs=_RATE_HZ, output="sos")
    return np.asarray(0.2 * sosfilt(low_pass, white))


def _place_s(sound: NDArray[np.floating], noise: NDArray[np.float64]) -> float:
    alike = correlate(sound, noise, mode="valid", method="fft")
    at = int(np.argmax(alike))
    heard = sound[at : at + noise.size]
    share = alike[at] / np.sqrt((heard**2).sum() * (noise**2).sum())
    assert share > 0.9, f"noise is not in the recording: correlation {share:.2f}"
    return at / _RATE_HZ
