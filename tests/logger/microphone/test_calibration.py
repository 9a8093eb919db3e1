"""Calibration: a sine of known amplitude in, the level of full scale out; all else is refused.

By the definition of the decibel, a calibrator of 94 dB that shows an amplitude of 0.1 of full scale
makes a full-scale sine 94 + 20 = 114 dB.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.arrays import Samples
from logger.errors import OutputError
from logger.microphone.calibration import (
    Calibration,
    calibration_from,
    check_fit,
    read_calibration,
    write_calibration,
)
from logger.microphone.calibrator_tone import CalibrationError, measure_tone
from logger.microphone.microphones import MicrophoneFacts

RATE_HZ = 48_000
TIME_S = np.arange(3 * RATE_HZ) / RATE_HZ
MICROPHONE = MicrophoneFacts(
    index=3,
    name="USB measuring microphone",
    host="ALSA",
    channel_count=2,
    sample_rate_hz=RATE_HZ,
    is_default=True,
)
GOOD = Calibration(
    microphone=MICROPHONE.name,
    host=MICROPHONE.host,
    sample_rate_hz=RATE_HZ,
    channel=1,
    full_scale_db_spl=124.5,
    tone_hz=1000.2,
    calibrator_db=94.0,
    spread_db=0.02,
    measured_utc="2025-04-01T12:00:00+00:00",
    software_version="1.0",
)


def tone(amplitude: float = 0.1, frequency_hz: float = 1000.0, noise: float = 0.0) -> Samples:
    samples = amplitude * np.sin(2.0 * np.pi * frequency_hz * TIME_S + 0.7)
    samples += noise * np.random.default_rng(3).normal(size=TIME_S.size)
    return samples.astype(np.float32)[:, np.newaxis]


def full_scale_db(samples: Samples, calibrator_db: float = 94.0) -> float:
    return calibration_from(
        measure_tone(samples, RATE_HZ),
        calibrator_db=calibrator_db,
        microphone=MICROPHONE,
        channel=1,
    ).full_scale_db_spl


@pytest.mark.parametrize(("calibrator_db", "expected"), [(94.0, 114.0), (114.0, 134.0)])
def test_a_known_sine_gives_the_level_of_full_scale(calibrator_db: float, expected: float) -> None:
    assert full_scale_db(tone(0.1), calibrator_db) == pytest.approx(expected, abs=0.002)


@settings(max_examples=15)
@given(st.floats(0.001, 0.88), st.floats(981.0, 1019.0), st.floats(0.0, 0.06))
def test_level_and_frequency_are_right_for_any_gain_and_noise(
    amplitude: float, frequency_hz: float, noise_share: float
) -> None:
    """The noise takes part in the peak, so it is kept small beside full scale."""
    noise = noise_share * amplitude * 0.01 if amplitude > 0.5 else noise_share * amplitude
    measured = measure_tone(tone(amplitude, frequency_hz, noise), RATE_HZ)
    assert 20.0 * np.log10(measured.amplitude / amplitude) == pytest.approx(0.0, abs=0.02)
    assert measured.frequency_hz == pytest.approx(frequency_hz, abs=0.05)


def test_rumble_and_hum_below_do_not_change_the_level() -> None:
    hum = 0.008 * np.sin(2.0 * np.pi * 50.0 * TIME_S) + 0.003 * np.sin(2.0 * np.pi * 23.0 * TIME_S)
    samples = tone(0.1) + hum.astype(np.float32)[:, np.newaxis]
    assert full_scale_db(samples) == pytest.approx(114.0, abs=0.02)


def wavering(swing_db: float) -> Samples:
    swing = 10.0 ** (0.025 * swing_db * np.sin(2.0 * np.pi * 0.4 * TIME_S))
    return tone() * swing.astype(np.float32)[:, np.newaxis]


def lost_sound() -> Samples:
    """A hundredth of a second is missing: the sine jumps by an odd part of its period."""
    samples = tone()
    return np.concatenate([samples[:100_010], samples[100_490 + 22 :]])


def loud_noise() -> Samples:
    """As strong as the tone less 18 dB, counted over all frequencies."""
    return tone(noise=0.1 / np.sqrt(2.0) * 10.0 ** (-18.0 / 20.0))


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        (lambda: tone(frequency_hz=1030.0), "no tone near 1000 Hz: the loudest is at 1030 Hz"),
        (lambda: tone(frequency_hz=250.0), "no tone near 1000 Hz: the loudest is at 250 Hz"),
        (lambda: tone(amplitude=0.0), "no sound at all"),
        (lambda: wavering(0.3), r"wavers by 0\.\d+ dB, 0.2 dB are allowed"),
        (lost_sound, "wavers|above the other sound"),  # both are true of it
        (loud_noise, "only 18 dB above the other sound"),
        (lambda: tone(amplitude=0.9), "within 1 dB of full scale"),
        (lambda: np.clip(3.0 * tone(0.5), -1.0, 1.0), "within 1 dB of full scale"),
        (lambda: tone()[:RATE_HZ], "only 1.0 s of sound came"),
        (lambda: np.hstack([tone(0.1), tone(0.05)]), "more than one channel"),
    ],
)
def test_what_is_no_good_tone_is_refused(samples: Callable[[], Samples], words: str) -> None:
    with pytest.raises(CalibrationError, match=words):
        measure_tone(samples(), RATE_HZ)


def test_a_slight_waver_is_allowed_and_told() -> None:
    assert measure_tone(wavering(0.15), RATE_HZ).spread_db == pytest.approx(0.15, abs=0.02)


def test_the_channel_with_the_calibrator_is_taken() -> None:
    faint = tone(0.01, noise=0.001)
    assert measure_tone(np.hstack([faint, tone(0.1)]), RATE_HZ).column == 1
    assert measure_tone(np.hstack([tone(0.1), faint]), RATE_HZ).column == 0
    assert measure_tone(np.hstack([tone(0.1), tone(0.1)]), RATE_HZ).column == 0  # one twice


def test_a_level_that_no_microphone_has_is_refused() -> None:
    with pytest.raises(CalibrationError, match="which no microphone is"):
        full_scale_db(tone(1e-6))


# --- the file -----------------------------------------------------------------------------------


def test_what_was_written_is_read(tmp_path: Path) -> None:
    path = tmp_path / "mic.json"
    write_calibration(GOOD, path, overwrite=False)
    assert read_calibration(path) == GOOD
    assert [each.name for each in tmp_path.iterdir()] == ["mic.json"]


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "mic.json"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="exists already"):
        write_calibration(GOOD, path, overwrite=False)
    assert path.read_text(encoding="utf-8") == "mine"
    write_calibration(GOOD, path, overwrite=True)
    assert read_calibration(path) == GOOD


def test_folders_are_never_replaced_or_made(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="is a folder"):
        write_calibration(GOOD, tmp_path, overwrite=True)
    with pytest.raises(OutputError, match="there is no folder"):
        write_calibration(GOOD, tmp_path / "none" / "mic.json", overwrite=False)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "not JSON"),
        (b"\xff\xfe\x00", "not JSON"),
        (b"[" * 90_000, "not JSON"),
        (b"[]", "expected an object"),
        (b'{"tone_hz": 3}', "names no full scale"),
        (b'{"full_scale_db_spl": 100, "format_version": 2}', "format version 2"),
        (b" " * 200_000, "too large"),
    ],
)
def test_other_files_are_refused_in_one_line(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "mic.json"
    path.write_bytes(content)
    with pytest.raises(CalibrationError, match=words) as refusal:
        read_calibration(path)
    assert "\n" not in str(refusal.value)
    assert "pipenote check --calibrate" in str(refusal.value)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("full_scale_db_spl", float("nan")),
        ("full_scale_db_spl", "124"),
        ("full_scale_db_spl", True),
        ("full_scale_db_spl", 10**400),
        ("channel", 0),
        ("microphone", None),
        ("measured_utc", 7),
    ],
)
def test_a_damaged_field_is_named(tmp_path: Path, key: str, value: object) -> None:
    path = tmp_path / "mic.json"
    write_calibration(GOOD, path, overwrite=False)
    document = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**document, key: value}), encoding="utf-8")
    with pytest.raises(CalibrationError, match=f'"{key}" must be'):
        read_calibration(path)


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(CalibrationError, match="cannot read"):
        read_calibration(tmp_path / "mic.json")


def test_it_fits_its_own_microphone_only() -> None:
    check_fit(GOOD, MICROPHONE, (1,))
    check_fit(GOOD, replace(MICROPHONE, index=7), (1, 2))  # the number changes with the socket
    with pytest.raises(CalibrationError, match="not of 'Headset' through ALSA"):
        check_fit(GOOD, replace(MICROPHONE, name="Headset"), (1,))
    with pytest.raises(CalibrationError, match="through MME"):
        check_fit(GOOD, replace(MICROPHONE, host="MME"), (1,))
    with pytest.raises(CalibrationError, match="channel 1, which is not recorded"):
        check_fit(GOOD, MICROPHONE, (2,))
