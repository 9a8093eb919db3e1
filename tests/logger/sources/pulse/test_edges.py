"""Where pulses begin: exact to a sample for any line-in, and nothing where there is none."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from logger.sources.pulse.edges import EdgeFinder
from tests.drives.spec import Leg
from tests.logger.sources.pulse.channel import Ignition
from tests.logger.sources.pulse.drives import Pickup, pickup

LEGS = (Leg(duration_s=4.0, end_rpm=4000.0, gear=3),)


def edges(samples: NDArray[np.float32], rate_hz: int) -> NDArray[np.float64]:
    finder = EdgeFinder(rate_hz, first_frame=0)
    step = rate_hz // 5
    found = [
        finder.feed(samples[at : at + step], None).frames for at in range(0, samples.size, step)
    ]
    return np.concatenate(found)


def offsets(made: Pickup) -> NDArray[np.float64]:
    """How many samples after each spark its edge was found; all but the last must be there."""
    found = edges(made.channel.samples, made.rate_hz)
    sparks = made.channel.spark_frames[:-1]
    near = found[np.clip(np.searchsorted(found, sparks - 6.0), 0, found.size - 1)]
    return np.asarray(near - sparks)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("ring_hz", [5_000.0, 9_000.0, 15_000.0])
def test_every_edge_lies_within_a_sample_of_its_spark(rate_hz: int, ring_hz: float) -> None:
    ignition = Ignition(sample_rate_hz=rate_hz, ring_hz=ring_hz, pulses_per_turn=1.0)
    off = offsets(pickup(LEGS, 1000.0, ignition))
    assert np.all(np.abs(off) < 1.5)  # the delay of the band limit included
    assert np.std(off) < 0.5


def test_a_swing_at_the_edge_of_the_band_is_found_within_five_samples() -> None:
    """At 0.45 of the sample rate the band limit itself swings before and after the spark."""
    off = offsets(pickup(LEGS, 1000.0, Ignition(sample_rate_hz=44_100, ring_hz=20_000.0)))
    assert np.all(np.abs(off) < 5.0)


@pytest.mark.parametrize(
    "ignition",
    [
        Ignition(polarity=-1.0),
        Ignition(height=0.01),
        Ignition(height=4.0),  # clipped
        Ignition(height_variation=0.3),
        Ignition(hum_level=0.04, crosstalk_level=0.04),  # 20 dB under the pulses
        Ignition(noise_level=2e-3),
        Ignition(ring_decay_s=0.4e-3),
    ],
    ids=["negative", "small", "clipped", "uneven", "hum", "noise", "long"],
)
def test_neither_size_nor_sign_nor_hum_moves_an_edge(ignition: Ignition) -> None:
    off = offsets(pickup(LEGS, 1000.0, ignition))
    assert np.all(np.abs(off) < 2.0)
    assert np.std(off) < 0.6


def test_the_size_of_the_stretches_does_not_matter() -> None:
    made = pickup(LEGS, 1000.0, Ignition())
    finder = EdgeFinder(48_000, first_frame=0)
    rng = np.random.default_rng(3)
    cuts = np.sort(rng.integers(0, made.channel.samples.size, size=60))
    found = [finder.feed(part, None).frames for part in np.split(made.channel.samples, cuts)]
    whole = edges(made.channel.samples, 48_000)
    assert np.concatenate(found)[: whole.size] == pytest.approx(whole, abs=0.05)


def test_steady_noise_has_no_edges() -> None:
    noise = np.random.default_rng(4).normal(scale=0.1, size=48_000 * 20)
    assert edges(noise.astype(np.float32), 48_000).size == 0
    assert edges(np.zeros(48_000, dtype=np.float32), 48_000).size == 0
