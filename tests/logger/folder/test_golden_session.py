"""One session of format 1, kept for ever: later versions still read it, value by value.

The folder was written without pipenote, by Python's ``wave`` module and by hand after
``logger/SESSION_FORMAT.md``. Its sound is a sine of 100 Hz and 0.25 of full scale on channel 1 and
one of 250 Hz and 0.5 on channel 2, 1.5 s long, in two files.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from datetime import UTC, datetime
from math import nan
from pathlib import Path

import numpy as np
import pytest

from analysis.drive import Engine
from logger.session import Session, Trouble, read_session
from logger.session.metadata import FORMAT_VERSION

GOLDEN = Path(__file__).parent / "golden_session"
RATE_HZ = 8000
HALF_STEP = 0.5 / 32768.0


@pytest.fixture(scope="module")
def session() -> Session:
    return read_session(GOLDEN)


def test_format_1_is_what_this_version_writes_or_an_older_one() -> None:
    assert FORMAT_VERSION >= 1


def test_metadata(session: Session) -> None:
    metadata = session.metadata
    assert metadata.name == "golden <b>drive</b> – 5th gear"
    assert metadata.start_time_utc == datetime(2024, 5, 3, 12, 2, 10, 250_000, tzinfo=UTC)
    assert metadata.devices == {"sound": "measurement microphone", "telemetry": "drive.csv"}
    assert metadata.full_scale_db_spl == 124.5
    assert metadata.car == {"engine": {"cylinders": 6, "stroke_cycle": 4}}
    assert metadata.software_version == "0.1.0"
    assert metadata.notes == ('"Time" names no unit; its steps fit s.',)
    assert metadata.trouble == (
        Trouble(code="telemetry_gap", message="The adapter was silent.", start_s=0.5),
    )


def test_telemetry(session: Session) -> None:
    expected = {
        "time_s": [-0.1, 0.4, 0.9, 1.4],
        "rpm": [1990.25, nan, 2010.75, 2021.0],
        "road_speed_m_s": [20.0, 20.125, 20.25, nan],
        "load_percent": [35.5, nan, 36.0, 36.5],
        "throttle_percent": [14.0, nan, 14.5, 15.0],
        "manifold_pressure_kpa": [61.0, nan, 62.0, 63.0],
        "coolant_temperature_degc": [88.0, nan, 88.5, 89.0],
        "catalyst_temperature_degc": [412.0, nan, 415.5, nan],
        "level_a_db": [66.5, nan, 67.0, 67.5],
        "level_c_db": [81.25, nan, 81.75, 82.25],
        "level_z_db": [82.0, nan, 82.5, 83.0],
    }
    assert list(session.telemetry.columns) == list(expected)
    for column, values in expected.items():
        np.testing.assert_array_equal(session.telemetry[column].to_numpy(), values)


@pytest.mark.parametrize(("channel", "hz", "amplitude"), [(1, 100.0, 0.25), (2, 250.0, 0.5)])
def test_sound(session: Session, channel: int, hz: float, amplitude: float) -> None:
    assert (session.sample_rate_hz, session.channel_count) == (RATE_HZ, 2)
    drive = session.drive(channel=channel)
    assert drive.engine == Engine(cylinders=6, stroke_cycle=4)
    assert drive.sound is not None
    assert drive.sound.duration_s == 1.5
    samples = np.concatenate(list(drive.sound.read_blocks()))
    times_s = np.arange(12_000) / RATE_HZ
    expected = amplitude * np.sin(2.0 * np.pi * hz * times_s)
    np.testing.assert_allclose(samples, expected, rtol=0.0, atol=1.01 * HALF_STEP)
