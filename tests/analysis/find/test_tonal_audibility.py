"""Tonal audibility against the worked example printed in ISO/PAS 20065:2016, Annex E."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import numpy as np
import pytest

from analysis.find.tonal_audibility import assess_tone, critical_band_hz, masking_index_db

# Annex E: A-weighted spectrum around a tone of a combustion engine, lines 2.7 Hz apart, Hann.
ANNEX_E_HZ = np.array(
    [
        96.9,
        99.6,
        102.3,
        105.0,
        107.7,
        110.4,
        113.0,
        115.7,
        118.4,
        121.1,
        123.8,
        126.5,
        129.2,
        131.9,
        134.6,
        137.3,
        140.0,
        142.7,
        145.3,
        148.0,
        150.7,
        153.4,
        156.1,
        158.8,
        161.5,
        164.2,
        166.9,
        169.6,
        172.3,
        175.0,
        177.6,
        180.3,
        183.0,
        185.7,
        188.4,
        191.1,
        193.8,
        196.5,
    ]
)
ANNEX_E_DB = np.array(
    [
        49.40,
        50.68,
        50.09,
        53.37,
        44.47,
        50.91,
        51.41,
        59.40,
        64.54,
        57.57,
        51.02,
        50.76,
        59.93,
        62.94,
        58.49,
        65.87,
        62.66,
        50.25,
        51.32,
        52.30,
        52.58,
        53.15,
        67.04,
        67.27,
        57.40,
        57.17,
        52.56,
        51.39,
        52.49,
        47.68,
        51.26,
        49.03,
        61.42,
        59.52,
        48.43,
        50.84,
        48.20,
        55.95,
    ]
)


def test_example_of_annex_e() -> None:
    tone = assess_tone(ANNEX_E_HZ, ANNEX_E_DB, 137.3)
    assert tone is not None
    printed = (49.22, 67.96, 64.98, -2.02, 4.99)
    worked_out = (
        tone.noise_db,
        tone.tone_db,
        tone.critical_band_db,
        tone.masking_index_db,
        tone.audibility_db,
    )
    assert worked_out == pytest.approx(printed, abs=0.03)


def test_critical_band_at_1_khz() -> None:
    # 162.2 Hz, 922.2 to 1084.4 Hz: conformance values printed in ECMA-418-1 (the same formula)
    assert critical_band_hz(1000.0) == pytest.approx((922.2, 1084.4), abs=0.1)


def test_masking_index() -> None:
    # a_v of -2.0 dB at low frequency, -3 lg(2) more at 502 Hz by the formula of the standard
    assert masking_index_db(1.0) == pytest.approx(-2.0, abs=1e-3)
    assert masking_index_db(502.0) == pytest.approx(-2.0 - np.log10(2.0))


def test_tone_in_white_noise_stands_out_by_its_own_excess() -> None:
    """A tone on one line: L_T - 1.76 against the band's noise, by the definition of delta L."""
    hz = np.arange(0.0, 400.0, 2.0)
    level = np.full(hz.size, 40.0 - 10.0 * np.log10(1.0 / 1.5))  # noise of 40 dB a line spacing
    level[hz == 100.0] = 70.0
    tone = assess_tone(hz, level, 100.0)
    assert tone is not None
    low_hz, high_hz = critical_band_hz(100.0)
    noise_db = 40.0 + 10.0 * np.log10((high_hz - low_hz) / 2.0)
    assert tone.audibility_db == pytest.approx(
        70.0 - 1.76 - noise_db - masking_index_db(100.0), abs=0.05
    )


def test_hann_correction_belongs_into_the_rounds() -> None:
    """Taken off afterwards, the lines 6 dB above would be other ones (52.56 instead of 49.22)."""
    tone = assess_tone(ANNEX_E_HZ, ANNEX_E_DB, 137.3)
    assert tone is not None
    assert abs(tone.noise_db - 52.56) > 3.0


@pytest.mark.parametrize(
    ("spacing_hz", "tone_hz"), [(1.0, 100.0), (5.0, 100.0), (2.0, 40.0), (2.0, 390.0)]
)
def test_outside_of_the_method(spacing_hz: float, tone_hz: float) -> None:
    hz = np.arange(0.0, 400.0, spacing_hz)
    assert assess_tone(hz, np.where(np.abs(hz - tone_hz) < 2, 60.0, 40.0), tone_hz) is None


def test_band_full_of_tones_has_no_noise_to_judge_by() -> None:
    hz = np.arange(0.0, 400.0, 2.0)
    level = np.where(hz < 92.0, 100.0, 40.0)  # leaves four lines of noise below the tone
    level[hz == 100.0] = 70.0
    assert assess_tone(hz, level, 100.0) is None
