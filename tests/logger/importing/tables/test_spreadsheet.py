"""Spreadsheets: read as any table, asked about where several sheets hold one, hostile ones bounded.

The files are written by openpyxl, or by hand as ECMA-376 (Office Open XML) has them, from memory.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

import random
import zipfile
from collections.abc import Sequence
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from logger.errors import TelemetryError
from logger.importing.plugins import read_telemetry_file
from logger.importing.request import ImportedTelemetry, TelemetryOptions
from tests.logger.importing.tables.log_shapes import RPM, SPEED_KMH, TIME_S

HEAD = ("Time (s)", "Engine RPM", "Speed (km/h)")
DRIVE = [[*row] for row in zip(TIME_S, RPM, SPEED_KMH, strict=True)]


def write(path: Path, **sheets: Sequence[Sequence[Any]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append([*row])
    book.save(path)
    return path


def read(path: Path, **options: Any) -> ImportedTelemetry:
    return read_telemetry_file(path, TelemetryOptions(**options), importer=None, installed=())


def agrees(got: ImportedTelemetry, tolerance: float = 1e-9) -> None:
    time_s = got.frame["time_s"] - got.frame["time_s"].iloc[0]
    np.testing.assert_allclose(time_s, TIME_S, atol=tolerance)
    np.testing.assert_allclose(got.frame["rpm"], RPM)
    np.testing.assert_allclose(3.6 * got.frame["road_speed_m_s"], SPEED_KMH)


def test_a_sheet_is_read_as_a_table_is(tmp_path: Path) -> None:
    agrees(read(write(tmp_path / "log.xlsx", Drive=[HEAD, *DRIVE])))


def test_a_preamble_units_and_an_empty_first_column(tmp_path: Path) -> None:
    head = [("Log of a drive",), (), ("", "Time", "RPM", "Speed"), ("", "s", "1/min", "km/h")]
    agrees(read(write(tmp_path / "log.xlsx", Drive=[*head, *(["", *row] for row in DRIVE)])))


@pytest.mark.parametrize(
    "stamp",
    [
        lambda t: datetime(2025, 6, 8, 10, 5, 12) + timedelta(seconds=t),
        lambda t: time(10, 5, 12 + int(t), int(1e6 * (t % 1))),
        lambda t: timedelta(seconds=t),
    ],
    ids=["date", "clock", "duration"],
)
def test_cells_that_hold_times(tmp_path: Path, stamp: Any) -> None:
    rows = [[stamp(t), n, v] for t, n, v in DRIVE]
    head = ("Time", *HEAD[1:])
    # a spreadsheet keeps days as floats and the reader rounds them to milliseconds
    agrees(read(write(tmp_path / "log.xlsx", Drive=[head, *rows])), tolerance=2e-3)


def test_a_number_with_three_decimals_is_no_number_in_thousands(tmp_path: Path) -> None:
    rows = [[t, n / 1000, f"{v:.1f}".replace(".", ",")] for t, n, v in DRIVE]
    path = write(tmp_path / "log.xlsx", Drive=[("Time (s)", "RPM (x1000)", HEAD[2]), *rows])
    with pytest.raises(TelemetryError, match="--decimal"):
        read(path)
    np.testing.assert_allclose(read(path, decimal="comma").frame["rpm"], RPM)


def test_several_sheets_with_tables_are_asked_about(tmp_path: Path) -> None:
    other = [[t, 2 * n, v] for t, n, v in DRIVE]
    path = write(
        tmp_path / "log.xlsx", Notes=[("hot", "day")], Out=[HEAD, *DRIVE], Back=[HEAD, *other]
    )
    with pytest.raises(TelemetryError, match='--worksheet "Out" or "Back"'):
        read(path)
    agrees(read(path, worksheet="out"))
    agrees(read(path, worksheet="2"))
    with pytest.raises(TelemetryError, match='no sheet Home; give --worksheet, one of: 1 "Notes"'):
        read(path, worksheet="Home")


def test_what_is_no_such_spreadsheet_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "log.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with pytest.raises(TelemetryError, match="OpenDocument spreadsheet; save the table as xlsx"):
        read(path)
    write(path, Notes=[("nothing", "here")])
    with pytest.raises(TelemetryError, match="no sheet with rows of numbers"):
        read(path)


def rewritten(path: Path, part: str, content: bytes, target: Path) -> Path:
    """Copy a spreadsheet with one part of it replaced."""
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for each in old.namelist():
            new.writestr(each, content if each == part else old.read(each))
    return target


SHEET = "xl/worksheets/sheet1.xml"
SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


@pytest.mark.parametrize(
    ("part", "content", "told"),
    [
        (SHEET, b" " * 120_000_000, "more than a day of driving"),
        ("xl/styles.xml", b" " * 25_000_000, "more than a day of driving"),
        (
            SHEET,
            b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">'
            + b"".join(
                b'<!ENTITY %c "%s">' % (98 + at, b"&%c;" % (97 + at) * 10) for at in range(12)
            )
            + f']><worksheet xmlns="{SPACE}"><sheetData><row><c t="str"><v>&m;</v></c></row>'
            "</sheetData></worksheet>".encode(),
            "cannot be read as a spreadsheet",
        ),
        (SHEET, b"<worksheet", "cannot be read as a spreadsheet"),
        ("xl/workbook.xml", b"<no/>", "cannot be read as a spreadsheet|no sheet"),
    ],
    ids=["sheet", "styles", "entities", "cut", "book"],
)
def test_hostile_spreadsheets_are_one_line(
    tmp_path: Path, part: str, content: bytes, told: str
) -> None:
    good = write(tmp_path / "good.xlsx", Drive=[HEAD, *DRIVE])
    path = rewritten(good, part, content, tmp_path / "bad.xlsx")
    assert path.stat().st_size < 1_000_000
    with pytest.raises(TelemetryError, match=told) as refusal:
        read(path)
    assert "\n" not in str(refusal.value)


def test_a_sheet_that_says_it_is_endless_is_not(tmp_path: Path) -> None:
    good = write(tmp_path / "good.xlsx", Drive=[HEAD, *DRIVE])
    with zipfile.ZipFile(good) as archive:
        sheet = archive.read(SHEET).decode()
    start, end = sheet.split("<sheetData>")
    far = '<row r="90000"><c r="XFD90000"><v>1</v></c></row></sheetData>'
    wide = f'{start}<dimension ref="A1:XFD1048576"/><sheetData>{end}'.replace("</sheetData>", far)
    agrees(read(rewritten(good, SHEET, wide.encode(), tmp_path / "endless.xlsx")))


def test_spreadsheets_with_bytes_changed(tmp_path: Path) -> None:
    whole = write(tmp_path / "good.xlsx", Drive=[HEAD, *DRIVE]).read_bytes()
    path = tmp_path / "mangled.xlsx"
    rng = random.Random(4)
    for _ in range(150):
        content = bytearray(whole)
        for _ in range(rng.randint(1, 4)):
            at = rng.randint(0, len(content))
            content[at : at + rng.randint(0, 9)] = rng.randbytes(rng.randint(0, 9))
        path.write_bytes(content)
        message = ""
        try:
            read(path)
        except TelemetryError as refusal:
            message = str(refusal)
        assert "\n" not in message
