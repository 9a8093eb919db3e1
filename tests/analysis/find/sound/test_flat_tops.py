"""Crests cut off at any level are counted; tones and noise that were not cut are not."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.find.sound.flat_tops import FlatTops

NOISE = np.random.default_rng(3).normal(size=200_000).astype(np.float32)


def seen(samples: np.ndarray) -> FlatTops:
    tops = FlatTops()
    for block in np.array_split(samples.astype(np.float32), 7):
        tops.add(block, float(np.abs(block).max()))
    return tops


@pytest.mark.parametrize("turned_down", [1.0, 0.5, 0.05])
def test_what_was_cut_off_is_counted_even_when_turned_down(turned_down: float) -> None:
    """Of normal noise 4.55 % lies beyond two standard deviations: any table of it."""
    cut = np.round(32767.0 * turned_down * np.clip(0.5 * NOISE, -1.0, 1.0)) / 32768.0
    assert seen(cut).cut_off == pytest.approx(0.0455 * NOISE.size, rel=0.05)


def test_a_tone_and_noise_are_not_cut_off() -> None:
    tone = 0.7 * np.sin(0.0123 * np.arange(200_000))
    assert seen(tone).cut_off == 0
    assert seen(0.1 * NOISE).cut_off == 0


def test_a_crest_at_full_scale_is_one_even_if_alone() -> None:
    alone = 0.1 * NOISE
    alone[5] = 1.0
    assert seen(alone).cut_off == 1


def test_a_limiter_crowds_crests_under_the_peak() -> None:
    """A slow gain that holds every crest near one height, as a limiter does."""
    swell = 1.0 + 0.9 * np.sin(2.0 * np.pi * np.arange(200_000) / 40_000.0)
    tone = np.sin(0.05 * np.arange(200_000))
    free, held = seen(0.4 * swell * tone), seen(0.4 * np.minimum(swell, 1.0) * tone)
    assert held.cut_off == 0
    assert held.near_the_peak > 4 * free.near_the_peak
