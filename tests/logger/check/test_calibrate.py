"""``check --calibrate`` and the options of ``check``."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from logger.arrays import Samples
from logger.check.check import calibrate
from logger.command.check import add_options, check_request
from logger.command.options import UsageError
from logger.errors import DeviceError, OutputError
from logger.microphone.calibration import read_calibration
from logger.microphone.calibrator_tone import CalibrationError
from tests.logger.check.fakes import FACTS, RATE_HZ, REQUEST, FakeSound, clap, ports, put_in

__all__ = ["ports"]

# --- calibration --------------------------------------------------------------------------------


def sine(amplitude: float = 0.1) -> Samples:
    time_s = np.arange(8 * RATE_HZ) / RATE_HZ
    wave = amplitude * np.sin(2.0 * np.pi * 1000.0 * time_s)
    wave[: RATE_HZ // 2] *= 0.3  # the hand is still on it
    return np.stack([0.01 * wave, wave], axis=1).astype(np.float32)


def test_calibrate_writes_what_it_measured(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    put_in(monkeypatch, FakeSound(sine()))
    out = tmp_path / "mic.json"
    shown = io.StringIO()
    made = calibrate(REQUEST, 94, out, Console(file=shown, width=80), overwrite=False)
    assert read_calibration(out) == made
    assert made.full_scale_db_spl == pytest.approx(114.0, abs=0.01)
    assert (made.channel, made.microphone, made.host) == (2, FACTS.name, FACTS.host)
    assert "clap" not in shown.getvalue()


@pytest.mark.parametrize(
    ("samples", "error", "words"),
    [
        (clap, CalibrationError, "no tone near 1000 Hz|above the other sound"),
        (lambda: 0.0 * sine(), DeviceError, "is the same"),
    ],
)
def test_a_bad_take_writes_nothing(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    samples: Callable[[], Samples],
    error: type[Exception],
    words: str,
) -> None:
    put_in(monkeypatch, FakeSound(samples()))
    out = tmp_path / "mic.json"
    with pytest.raises(error, match=words):
        calibrate(REQUEST, 94, out, Console(file=io.StringIO()), overwrite=False)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_refused_before_anybody_measures(tmp_path: Path) -> None:
    out = tmp_path / "mic.json"
    out.touch()
    with pytest.raises(OutputError, match="exists already"):
        calibrate(REQUEST, 94, out, Console(file=io.StringIO()), overwrite=False)


# --- options ------------------------------------------------------------------------------------


def parsed(*words: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    add_options(parser)
    return parser.parse_args(words)


def test_options_become_a_request() -> None:
    assert check_request(parsed()) == REQUEST
    many = check_request(parsed("--rpm", "obd:auto", "--rpm", "pulse:2", "--channels", "2,1"))
    assert (many.rpm, many.channels) == (("obd:auto", "pulse:2"), (1, 2))


@pytest.mark.parametrize(
    ("words", "refusal"),
    [
        (("--calibrate", "94"), "belong together"),
        (("--out", "mic.json"), "belong together"),
        (("--calibrate", "94", "--out", "m.json", "--rpm", "obd:auto"), "leave --rpm out"),
        (("--seconds", "500"), "too long"),
    ],
)
def test_options_that_do_not_go_together(words: tuple[str, ...], refusal: str) -> None:
    with pytest.raises(UsageError, match=refusal):
        check_request(parsed(*words))
