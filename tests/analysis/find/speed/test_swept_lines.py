"""Sound at twice the rate, held beside scipy.signal.resample_poly."""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
from scipy.signal import resample_poly

from analysis.find.speed.swept_lines import doubled


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
