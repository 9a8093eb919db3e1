"""Levels against the tables printed in IEC 61672-1:2013.

Table 3 is quoted from a public copy of the 2013 edition. The printed weightings
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


@pytest.mark.parametrize(("n", "a_db", "c_db"), TABLE_3)
def test_weightings_round_to_the_printed_table(n: int, a_db: float, c_db: float) -> None:
    exact_hz = 10.0 ** (n / 10.0)
    assert weighting.a_weighting_db(exact_hz) == pytest.approx(a_db, abs=PRINTED_DIGIT_DB)
    assert weighting.c_weighting_db(exact_hz) == pytest.approx(c_db, abs=PRINTED_DIGIT_DB)


# B at 10^(n/10) Hz: IEC 60651, table IV; from memory
@pytest.mark.parametrize(
    ("n", "b_db"), [(15, -17.1), (18, -9.3), (21, -4.2), (24, -1.3), (27, -0.3), (30, 0.0)]
)
def test_the_old_b_weighting(n: int, b_db: float) -> None:
    assert weighting.b_weighting_db(10.0 ** (n / 10.0)) == pytest.approx(b_db, abs=PRINTED_DIGIT_DB)


def test_poles_are_those_of_annex_e() -> None:
    # IEC 61672-1 gives 20.60, 107.7, 737.9 and 12194 Hz.
    assert pytest.approx(20.598997, abs=1e-6) == weighting.F1_HZ
    assert pytest.approx(107.65265, abs=1e-5) == weighting.F2_HZ
    assert pytest.approx(737.86223, abs=1e-5) == weighting.F3_HZ
    assert pytest.approx(12194.217, abs=1e-3) == weighting.F4_HZ


@given(st.floats(10.0, 200.0), st.floats(1.001, 2.0))
def test_in_the_range_of_drones_a_lower_tone_counts_less(low_hz: float, ratio: float) -> None:
    assert weighting.a_weighting_db(low_hz) < weighting.a_weighting_db(low_hz * ratio)


def test_silence_and_zero_hertz_are_minus_infinity_without_a_warning() -> None:
    assert weighting.a_weighting_db(np.zeros(2)).tolist() == [-np.inf, -np.inf]
