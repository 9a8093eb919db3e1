"""Levels against the tables printed in IEC 61672-1:2013.

Tables 3 and 4 are quoted from a public copy of the 2013 edition. The printed weightings
hold at the exact base-ten frequencies 10^(n/10), not at the nominal ones.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.find.sound import weighting

PRINTED_DIGIT_DB = 0.05 + 1e-9

# n, A, C for 10^(n/10) Hz, n = 10 (10 Hz) to 43 (20 kHz): table 3.
TABLE_3 = [
    (10, -70.4, -14.3), (11, -63.4, -11.2), (12, -56.7, -8.5), (13, -50.5, -6.2),
    (14, -44.7, -4.4), (15, -39.4, -3.0), (16, -34.6, -2.0), (17, -30.2, -1.3),
    (18, -26.2, -0.8), (19, -22.5, -0.5), (20, -19.1, -0.3), (21, -16.1, -0.2),
    (22, -13.4, -0.1), (23, -10.9, 0.0), (24, -8.6, 0.0), (25, -6.6, 0.0),
    (26, -4.8, 0.0), (27, -3.2, 0.0), (28, -1.9, 0.0), (29, -0.8, 0.0),
    (30, 0.0, 0.0), (31, 0.6, 0.0), (32, 1.0, -0.1), (33, 1.2, -0.2),
    (34, 1.3, -0.3), (35, 1.2, -0.5), (36, 1.0, -0.8), (37, 0.5, -1.3),
    (38, -0.1, -2.0), (39, -1.1, -3.0), (40, -2.5, -4.4), (41, -4.3, -6.2),
    (42, -6.6, -8.5), (43, -9.3, -11.2),
]  # fmt: skip

# Duration in ms; Fast, exposure, Slow (None where table 4 has none), dB re the steady tone.
TABLE_4 = [
    (1000, 0.0, 0.0, -2.0), (500, -0.1, -3.0, -4.1), (200, -1.0, -7.0, -7.4),
    (100, -2.6, -10.0, -10.2), (50, -4.8, -13.0, -13.1), (20, -8.3, -17.0, -17.0),
    (10, -11.1, -20.0, -20.0), (5, -14.1, -23.0, -23.0), (2, -18.0, -27.0, -27.0),
    (1, -21.0, -30.0, None), (0.5, -24.0, -33.0, None), (0.25, -27.0, -36.0, None),
]  # fmt: skip


@pytest.mark.parametrize(("n", "a_db", "c_db"), TABLE_3)
def test_weightings_round_to_the_printed_table(n: int, a_db: float, c_db: float) -> None:
    exact_hz = 10.0 ** (n / 10.0)
    assert weighting.a_weighting_db(exact_hz) == pytest.approx(a_db, abs=PRINTED_DIGIT_DB)
    assert weighting.c_weighting_db(exact_hz) == pytest.approx(c_db, abs=PRINTED_DIGIT_DB)


def test_poles_are_those_of_annex_e() -> None:
    # IEC 61672-1 gives 20.60, 107.7, 737.9 and 12194 Hz.
    assert pytest.approx(20.598997, abs=1e-6) == weighting.F1_HZ
    assert pytest.approx(107.65265, abs=1e-5) == weighting.F2_HZ
    assert pytest.approx(737.86223, abs=1e-5) == weighting.F3_HZ
    assert pytest.approx(12194.217, abs=1e-3) == weighting.F4_HZ


def tone_burst_4_khz(duration_ms: float, sample_rate_hz: float) -> np.ndarray:
    time_s = np.arange(0.0, 1.6, 1.0 / sample_rate_hz)
    return np.where(time_s < duration_ms / 1e3, np.sin(2.0 * np.pi * 4000.0 * time_s), 0.0)


@pytest.mark.parametrize(("duration_ms", "fast_db", "exposure_db", "slow_db"), TABLE_4)
def test_tone_bursts_read_as_printed(
    duration_ms: float, fast_db: float, exposure_db: float, slow_db: float | None
) -> None:
    rate_hz = 192_000.0
    squared = np.square(tone_burst_4_khz(duration_ms, rate_hz))
    steady = 0.5

    def highest_db(time_constant_s: float) -> float:
        weighted = weighting.time_weighted(squared, rate_hz, time_constant_s)
        return float(weighting.mean_square_db(weighted.max() / steady))

    # Half the last printed digit, and what the 8 kHz ripple of the squared tone adds.
    assert highest_db(weighting.FAST_S) == pytest.approx(fast_db, abs=0.06)
    exposure = squared.sum() / rate_hz / steady
    assert weighting.mean_square_db(exposure) == pytest.approx(exposure_db, abs=0.06)
    if slow_db is not None:
        assert highest_db(weighting.SLOW_S) == pytest.approx(slow_db, abs=0.06)


@pytest.mark.parametrize(("time_constant_s", "fall_db_per_s"), [(0.125, 34.7), (1.0, 4.3)])
def test_level_falls_at_the_rate_of_the_standard(
    time_constant_s: float, fall_db_per_s: float
) -> None:
    # IEC 61672-1, 5.8: 34.7 dB/s for Fast, 4.3 dB/s for Slow.
    squared = np.concatenate([np.ones(1000), np.zeros(1000)])
    level_db = weighting.mean_square_db(weighting.time_weighted(squared, 1000.0, time_constant_s))
    assert level_db[1000] - level_db[1999] == pytest.approx(0.999 * fall_db_per_s, abs=0.06)


@given(st.floats(10.0, 200.0), st.floats(1.001, 2.0))
def test_in_the_range_of_drones_a_lower_tone_counts_less(low_hz: float, ratio: float) -> None:
    assert weighting.a_weighting_db(low_hz) < weighting.a_weighting_db(low_hz * ratio)


def test_silence_and_zero_hertz_are_minus_infinity_without_a_warning() -> None:
    assert weighting.a_weighting_db(np.zeros(2)).tolist() == [-np.inf, -np.inf]
    assert weighting.mean_square_db(0.0) == -np.inf
