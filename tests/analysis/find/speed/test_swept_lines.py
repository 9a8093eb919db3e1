"""Sound at twice the rate, held beside scipy.signal.resample_poly."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.signal import resample_poly

from analysis.find.speed.comb_path import EVERY_HALF_ORDER, comb_path
from analysis.find.speed.swept_lines import CHUNK_S, doubled, levels_along
from tests.analysis.made_drives import copy_of


def test_between_two_samples_lies_what_a_library_puts_there() -> None:
    """Its filter is the same windowed sinc, lifted as a whole by 0.05 % so that 0 Hz is exact."""
    samples = np.random.default_rng(1).standard_normal(500).astype(np.float32)
    expected = resample_poly(samples, 2, 1, window=("kaiser", 5.0))
    lifted = expected[100] / samples[50]
    assert abs(lifted - 1.0) < 1e-3
    np.testing.assert_allclose(doubled(samples), expected / lifted, atol=1e-6)


def test_a_slow_tone_stays_a_tone() -> None:
    time_s = np.arange(2000) / 2000.0
    tone = np.sin(2.0 * np.pi * 200.0 * time_s[::2]).astype(np.float32)
    inner = slice(40, -40)
    np.testing.assert_allclose(
        doubled(tone)[inner], np.sin(2.0 * np.pi * 200.0 * time_s)[inner], atol=2e-3
    )


def test_a_drive_may_end_just_behind_a_chunk() -> None:
    """Its last chunk then holds no frame, and nothing is to be heard in it."""
    rate_hz = 2000.0
    noise = np.random.default_rng(2).standard_normal(round((CHUNK_S + 0.02) * rate_hz))
    with copy_of(0.1 * noise, rate_hz) as copy:
        path = comb_path(copy, 0.0, copy.duration_s, EVERY_HALF_ORDER)
        none = np.empty(0)
        assert levels_along(copy, none, none, none, np.array([1.0, 2.0])).shape == (0, 2)
    assert path is not None
    assert path.time_s[-1] < CHUNK_S
