"""Levellers, limiters and codecs against their definitions."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest

from tests.roads import (
    Leveller,
    Recorder,
)
from tests.roads.codecs import FILE_CODECS, coded
from tests.roads.recorder import gain_of, limited, recorded
from tests.roads.steady_drives import RATE_HZ, line_db


@pytest.mark.parametrize(("attack_s", "release_s"), [(0.05, 0.5), (0.3, 3.0)])
def test_leveller_follows_its_time_constants(attack_s: float, release_s: float) -> None:
    """After one time constant 63 % of the way is gone, up or down: definition."""
    tone = np.sin(2.0 * np.pi * 200.0 * np.arange(int(30 * RATE_HZ)) / RATE_HZ)
    loud = slice(int(10 * RATE_HZ), int(15 * RATE_HZ))
    tone *= 0.01
    tone[loud] *= 10.0
    spec = Leveller(attack_s=attack_s, release_s=release_s, target_dbfs=-20.0, most_gain_db=60.0)
    gain_db = 20.0 * np.log10(gain_of(spec, tone, RATE_HZ))

    def at(time_s: float) -> float:
        return float(gain_db[int(time_s * RATE_HZ)])

    assert at(9.9) == pytest.approx(20.0, abs=0.3)  # a sine of amplitude 0.01 is -40 dBFS
    assert at(14.9) == pytest.approx(0.0, abs=0.3)
    # The level itself is taken over 10 ms, which makes both a little later.
    assert at(10.0 + attack_s + 0.01) == pytest.approx(20.0 * np.exp(-1.0), abs=1.5)
    assert at(15.0 + release_s + 0.02) == pytest.approx(20.0 * (1.0 - np.exp(-1.0)), abs=1.0)


def test_leveller_stops_at_its_most_gain_and_at_its_gate() -> None:
    tone = 1e-4 * np.sin(2.0 * np.pi * 200.0 * np.arange(int(10 * RATE_HZ)) / RATE_HZ)
    tone[: int(5 * RATE_HZ)] *= 1000.0
    capped = gain_of(Leveller(release_s=0.3, most_gain_db=24.0), tone, RATE_HZ)
    assert 20 * np.log10(capped[-1]) == pytest.approx(24.0, abs=0.3)
    gated = gain_of(Leveller(release_s=0.3, gate_dbfs=-50.0), tone, RATE_HZ)
    # Falling through 30 dB to the gate takes 70 ms of its 10 ms level; without it 30 dB would come.
    assert 20 * np.log10(gated[-1] / gated[int(4.9 * RATE_HZ)]) < 4.0


def test_limiter_holds_its_ceiling_and_leaves_the_rest() -> None:
    tone = 0.2 * np.sin(2.0 * np.pi * 100.0 * np.arange(int(4 * RATE_HZ)) / RATE_HZ)
    tone[int(RATE_HZ) : int(2 * RATE_HZ)] *= 4.0
    out = limited(tone, 0.4, RATE_HZ)
    assert np.abs(out).max() <= 0.4 + 1e-9
    assert out[: int(0.9 * RATE_HZ)] == pytest.approx(tone[: int(0.9 * RATE_HZ)])
    assert np.abs(out[int(3 * RATE_HZ) :]).max() == pytest.approx(0.2, rel=1e-3)


def test_clipping_turned_down_has_flat_tops_below_full_scale() -> None:
    tone = np.sin(2.0 * np.pi * 90.0 * np.arange(int(RATE_HZ)) / RATE_HZ)
    out = recorded(Recorder(clip_db=6.0, turned_down_db=3.0), tone, RATE_HZ)
    top = np.abs(out).max()
    assert top == pytest.approx(10 ** (-3.0 / 20.0))
    assert np.mean(np.abs(out) > 0.999 * top) > 0.5  # a sine is over half its peak 2/3 of the time


def test_a_dead_left_channel_and_two_clocks() -> None:
    tone = np.sin(2.0 * np.pi * 90.0 * np.arange(int(100 * RATE_HZ)) / RATE_HZ)
    out = recorded(Recorder(dead_left=True, drift_ppm=200.0), tone, RATE_HZ)
    assert out.shape == (tone.size + round(200e-6 * tone.size), 2)
    assert not out[:, 0].any()
    assert out[:, 1].any()


@pytest.mark.parametrize("name", FILE_CODECS)
def test_lossy_codecs_keep_a_tone_in_its_place(name: str) -> None:
    rng = np.random.default_rng(1)
    time_s = np.arange(int(6 * RATE_HZ)) / RATE_HZ
    tone = 0.3 * np.sin(2.0 * np.pi * 90.0 * time_s) + 0.01 * rng.normal(size=time_s.size)
    back = coded(name, tone, RATE_HZ)
    assert back.size == tone.size
    assert line_db(back, 90.0) == pytest.approx(line_db(tone, 90.0), abs=1.0)
    assert np.corrcoef(back[8000:40000], tone[8000:40000])[0, 1] > 0.95
    assert not np.allclose(back, tone, atol=1e-4)


def test_voice_codec_takes_the_low_notes() -> None:
    time_s = np.arange(int(4 * RATE_HZ)) / RATE_HZ
    tones = 0.2 * (np.sin(2 * np.pi * 40.0 * time_s) + np.sin(2 * np.pi * 400.0 * time_s))
    back = coded("voice-8k", tones, RATE_HZ)
    assert line_db(back, 40.0) < line_db(back, 400.0) - 25.0
    assert line_db(back, 400.0) == pytest.approx(line_db(tones, 400.0), abs=1.0)
