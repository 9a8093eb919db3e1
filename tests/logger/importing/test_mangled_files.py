"""Thousands of mangled files: never anything but the logger's own error, in one line."""
# SPDX-License-Identifier: GPL-2.0-or-later

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from logger.errors import LoggerError
from logger.importing.plugins import check_telemetry
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from logger.importing.sound_file import look_at_sound, write_sound
from logger.importing.telemetry_csv import CsvImporter
from tests.logger.folders import RATE_HZ, noise
from tests.logger.importing.test_csv_examples import EXAMPLES

SOURCES = sorted(path.read_bytes() for path in EXAMPLES.glob("*.csv"))
CELLS = st.sampled_from(
    [
        *("0", "1", "-1", "0,5", "1.5", "1e400", "nan", "-inf", "1_000", "٣", "", " ", '"', '""'),
        *("12:00:01", "25:61:61", "2024-05-03T10:00:00Z", "0001-01-01T00:00:00+14:00", "05:12.3"),
        *("time", "rpm", "LAeq", "speed (mph)", "s", "1/min", "dB(A)", "\0", "1714744930", "x"),
        *("1e308", "-1e308", "9" * 400, "9999-12-31T23:59:59.999999-12:00", "1,234", "1.234.567,8"),
    ]
)


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def read_or_refuse(path: Path, options: TelemetryOptions) -> None:
    got: ImportedTelemetry | None = None
    message = ""
    try:
        got = CsvImporter().read(path, options)
    except LoggerError as error:
        message = str(error)
    assert "\n" not in message
    if got is not None:
        check_telemetry("csv", got)
        assert len(got.frame.index) >= 2


@settings(max_examples=1200)
@given(data=st.data())
def test_examples_with_bytes_changed(folder: Path, data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from(SOURCES)))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content)))
        size = data.draw(st.integers(0, 12))
        content[at : at + size] = data.draw(st.binary(max_size=12))
    path = folder / "mangled.csv"
    path.write_bytes(content[: data.draw(st.integers(0, len(content)))])
    read_or_refuse(path, TelemetryOptions())


@settings(max_examples=1000)
@given(
    rows=st.lists(st.lists(CELLS, max_size=5), max_size=12),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-32"]),
    has_header=st.booleans(),
)
def test_tables_of_anything(
    folder: Path,
    rows: list[list[str]],
    delimiter: str,
    line_end: str,
    encoding: str,
    has_header: bool,
) -> None:
    table = [["time_s", "rpm", "LAeq"], *rows] if has_header else rows
    text = line_end.join(delimiter.join(row) for row in table)
    path = folder / "table.csv"
    path.write_bytes(text.encode(encoding))
    read_or_refuse(path, TelemetryOptions())


@settings(max_examples=500)
@given(content=st.binary(max_size=300), asked=st.sampled_from([None, "1", "2", "x"]))
def test_bytes_of_anything(folder: Path, content: bytes, asked: str | None) -> None:
    path = folder / "bytes.csv"
    path.write_bytes(content)
    options = TelemetryOptions(
        time_column=asked, rpm_column="2", delimiter="comma" if asked else None
    )
    read_or_refuse(path, options)


@pytest.fixture(scope="module", params=["WAV", "FLAC", "W64"])
def sound_bytes(request: pytest.FixtureRequest, folder: Path) -> bytes:
    import soundfile

    path = folder / "good.sound"
    quiet = noise(1.2, 1) * np.linspace(0.0, 1.0, int(1.2 * RATE_HZ))[:, np.newaxis]
    soundfile.write(path, quiet, RATE_HZ, subtype="PCM_16", format=request.param)
    return path.read_bytes()


@settings(max_examples=250)
@given(data=st.data())
def test_sound_files_with_bytes_changed(
    folder: Path, sound_bytes: bytes, data: st.DataObject
) -> None:
    content = bytearray(sound_bytes)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, 120) | st.integers(0, len(content)))
        content[at : at + data.draw(st.integers(0, 6))] = data.draw(st.binary(max_size=6))
    path = folder / "mangled.sound"
    path.write_bytes(content)
    message = ""
    with tempfile.TemporaryDirectory() as out:
        try:
            write_sound(look_at_sound(path, None), Path(out), lambda _: None)
        except LoggerError as error:
            message = str(error)
    assert "\n" not in message
