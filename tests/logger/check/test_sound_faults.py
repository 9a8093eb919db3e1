"""Hum, clipping, dead and automatically levelled sound: made by hand, noticed or rightly not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import lfilter

from logger.arrays import FloatArray
from logger.microphone.faults import GainVerdict, automatic_gain, clipped_count, find_hum, is_dead

RATE_HZ = 16_000
TIME_S = np.arange(10 * RATE_HZ) / RATE_HZ


def noise(level: float = 1e-3, seed: int = 0) -> FloatArray:
    return level * np.random.default_rng(seed).normal(size=TIME_S.size)


def rumble(level: float = 3e-3) -> FloatArray:
    """A car park: noise that falls with frequency."""
    return np.asarray(lfilter([1.0], [1.0, -0.98], noise(0.2 * level)))


def lines(step_hz: float, count: int, amplitude: float = 2e-3) -> FloatArray:
    return np.asarray(
        sum(amplitude * np.sin(2.0 * np.pi * step_hz * k * TIME_S + k) for k in range(1, count))
    )


def with_clap(samples: FloatArray, start_s: float = 4.5, end_s: float = 6.0) -> FloatArray:
    """A loud second and a half: 46 dB above the background of :func:`noise`."""
    loud = (start_s <= TIME_S) & (end_s > TIME_S)
    return samples + np.where(loud, noise(0.2, seed=9), 0.0)


def levelled(samples: FloatArray, rise_s: float) -> FloatArray:
    """What a telephone makes of it: quick to turn down, slow to turn up, over up to 30 dB."""
    frame = RATE_HZ // 100
    power = np.mean(samples[: samples.size // frame * frame].reshape(-1, frame) ** 2, axis=1)
    envelope, held = np.empty(power.size), power[0]
    for index, now in enumerate(power):
        share = 0.5 if now > held else 0.01 / rise_s
        held += share * (now - held)
        envelope[index] = held
    gain = np.clip((0.02 / np.sqrt(envelope)), 0.1, 3.0)
    return samples * np.repeat(gain, frame)


# --- hum ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("mains_hz", [50.0, 60.0, 49.9, 60.05])
def test_hum_is_found_with_its_mains(mains_hz: float) -> None:
    hum = find_hum(with_clap(rumble() + lines(mains_hz, 5)), RATE_HZ)
    assert hum is not None
    assert hum.mains_hz == round(mains_hz)
    assert hum.over_db > 15.0


@pytest.mark.parametrize("seed", range(20))
def test_noise_is_no_hum(seed: int) -> None:
    assert find_hum(noise(seed=seed), RATE_HZ) is None


@pytest.mark.parametrize(
    "samples",
    [
        rumble(),
        rumble() + lines(25.0, 16),  # a four-cylinder engine idling at 750 rpm, order 2 at 25 Hz
        rumble() + lines(37.5, 12),  # and at 1,125 rpm
        rumble() + 2e-3 * np.sin(2.0 * np.pi * 50.0 * TIME_S),  # one line may be anything
        np.zeros(TIME_S.size),
        noise()[:RATE_HZ],
    ],
)
def test_an_idling_engine_is_no_hum(samples: FloatArray) -> None:
    assert find_hum(samples, RATE_HZ) is None


# --- automatic gain -----------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_a_plain_microphone_is_not_suspected(seed: int) -> None:
    assert automatic_gain(with_clap(noise(seed=seed)), RATE_HZ) is GainVerdict.NOT_SEEN


@pytest.mark.parametrize("rise_s", [1.0, 2.0, 4.0])
def test_gain_that_sinks_and_climbs_again_is_suspected(rise_s: float) -> None:
    assert automatic_gain(levelled(with_clap(noise()), rise_s), RATE_HZ) is GainVerdict.SUSPECTED


def test_a_room_that_rings_is_not_suspected() -> None:
    ringing = with_clap(noise())
    after = np.maximum(TIME_S - 6.0, 0.0)
    ringing += np.where(after > 0.0, noise(0.2, seed=4) * 10.0 ** (-3.0 * after / 0.6), 0.0)
    assert automatic_gain(ringing, RATE_HZ) is GainVerdict.NOT_SEEN


def test_leading_zeros_of_the_sound_system_do_not_disturb() -> None:
    samples = with_clap(noise())
    samples[: 2 * RATE_HZ] = 0.0
    assert automatic_gain(samples, RATE_HZ) is GainVerdict.NOT_SEEN


@pytest.mark.parametrize(
    "samples",
    [
        noise(),
        with_clap(noise(), end_s=4.55),  # a tap
        with_clap(noise(), end_s=10.0),  # no silence after it
        np.zeros(TIME_S.size),
        np.empty(0),
    ],
)
def test_without_silence_noise_silence_nothing_is_claimed(samples: FloatArray) -> None:
    assert automatic_gain(samples, RATE_HZ) is GainVerdict.NOT_TESTED


# --- the plain ones -----------------------------------------------------------------------------


def test_dead_is_all_the_same() -> None:
    assert is_dead(np.zeros(9))
    assert is_dead(np.full(9, -0.25))
    assert is_dead(np.empty(0))
    assert not is_dead(noise(1e-7))


def test_clipped_samples_are_counted_on_both_sides() -> None:
    assert clipped_count(np.array([0.5, 1.0, -1.0, 0.998, 1.4])) == 3
