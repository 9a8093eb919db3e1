"""Thousands of mangled files: never anything but the logger's own error, in one line.

Made by plain random numbers: hypothesis would take ten times as long over them as the importer.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import random
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from logger.errors import LoggerError
from logger.importing.plugins import check_telemetry, read_telemetry_file
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from logger.importing.sound_file import look_at_sound, write_sound
from tests.logger.folders import RATE_HZ, noise
from tests.logger.importing.mangling import any_options, mangled

CELLS = [
    *("0", "1", "-1", "0,5", "1.5", "1e400", "nan", "-inf", "1_000", "٣", "", " ", '"', '""'),
    *("12:00:01", "25:61:61", "2024-05-03T10:00:00Z", "0001-01-01T00:00:00+14:00", "05:12.3"),
    *("time", "rpm", "LAeq", "speed (mph)", "s", "1/min", "dB(A)", "\0", "1714744930", "x"),
    *("1e308", "-1e308", "9" * 400, "9999-12-31T23:59:59.999999-12:00", "1,234", "1.234.567,8"),
]
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-32")


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        yield Path(name)


def read_or_refuse(path: Path, content: bytes, options: TelemetryOptions) -> None:
    path.write_bytes(content)
    got: ImportedTelemetry | None = None
    message = ""
    try:
        got = read_telemetry_file(path, options, importer=None, installed=())
    except LoggerError as error:
        message = str(error)
    assert "\n" not in message, content
    if got is not None:
        check_telemetry("csv", got)
        assert len(got.frame.index) >= 2, content


def test_logs_with_bytes_cells_and_lines_changed(folder: Path) -> None:
    """10,000 and more by ``python -m tests.benchmarks.mangled_logs``."""
    rng = random.Random(1)
    for _ in range(300):
        read_or_refuse(folder / "mangled", mangled(rng), any_options(rng))


def test_tables_of_anything(folder: Path) -> None:
    rng = random.Random(2)
    for _ in range(1000):
        table = [rng.choices(CELLS, k=rng.randint(0, 5)) for _ in range(rng.randint(0, 12))]
        if rng.random() < 0.5:
            table = [[str(at), *row] for at, row in enumerate(table)]
        if rng.random() < 0.5:
            table.insert(0, ["time_s", "rpm", "LAeq"])
        delimiter, line_end = rng.choice(",;\t|"), rng.choice(("\n", "\r\n", "\r"))
        text = line_end.join(delimiter.join(row) for row in table)
        content = text.encode(rng.choice(ENCODINGS))
        read_or_refuse(folder / "table.csv", content, TelemetryOptions())


def test_bytes_of_anything(folder: Path) -> None:
    rng = random.Random(3)
    for _ in range(500):
        asked = rng.choice((None, "1", "2", "x"))
        options = TelemetryOptions(
            time_column=asked, rpm_column="2", delimiter="comma" if asked else None
        )
        size = rng.choice((rng.randint(0, 8), rng.randint(0, 300)))
        content = rng.choice((rng.randbytes(size), bytes(rng.choices(b'01,; \n"\0\xff', k=size))))
        read_or_refuse(folder / "bytes.csv", content, options)


# every other one of the latter two ends in the decoder, a process of its own
@pytest.mark.parametrize(("kind", "count"), [("WAV", 250), ("FLAC", 30), ("W64", 30)])
def test_sound_files_with_bytes_changed(folder: Path, kind: str, count: int) -> None:
    import soundfile

    path, out = folder / "mangled.sound", folder / kind
    quiet = noise(1.2, 1) * np.linspace(0.0, 1.0, int(1.2 * RATE_HZ))[:, np.newaxis]
    soundfile.write(path, quiet, RATE_HZ, subtype="PCM_16", format=kind)
    whole = path.read_bytes()
    out.mkdir()
    rng = random.Random(kind)
    for _ in range(count):
        content = bytearray(whole)
        for _ in range(rng.randint(1, 3)):
            at = rng.choice((rng.randint(0, 120), rng.randint(0, len(content))))
            content[at : at + rng.randint(0, 6)] = rng.randbytes(rng.randint(0, 6))
        path.write_bytes(content)
        message = ""
        try:
            write_sound(look_at_sound(path, None), out, lambda _: None)
        except LoggerError as error:
            message = str(error)
        assert "\n" not in message, content
        for made in out.iterdir():
            made.unlink()
