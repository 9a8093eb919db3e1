"""Every importer, ours and other people's, keeps the same contract."""
# SPDX-License-Identifier: GPL-2.0-or-later

import json
import struct
from collections.abc import Callable
from datetime import datetime
from importlib.metadata import EntryPoint, PackageNotFoundError
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from logger.errors import TelemetryError
from logger.importing.import_session import import_session
from logger.importing.plugins import (
    ENTRY_POINT_GROUP,
    TelemetryImporter,
    check_telemetry,
    read_telemetry_file,
)
from logger.importing.request import (
    ColumnReport,
    ImportedTelemetry,
    ImportRequest,
    TelemetryOptions,
)
from logger.importing.tables.telemetry_csv import CsvImporter
from logger.session import read_session

TIMES_S = [0.0, 0.5, 1.0]
RPM = [1500.0, 1550.0, 1600.0]
LEVEL_DB = [70.0, 71.0, 72.0]


class JsonImporter:
    """An importer as another package may bring it."""

    name = "json-lines"

    def recognises(self, path: Path) -> bool:
        with path.open("rb") as file:
            return file.read(1) == b"{"

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        try:
            rows = [json.loads(line) for line in path.read_text().splitlines()]
            frame = pd.DataFrame(
                {
                    "time_s": [row["t"] for row in rows],
                    "rpm": [row["n"] for row in rows],
                    "level_a_db": [row["la"] for row in rows],
                },
                dtype=np.float64,
            )
        except (ValueError, KeyError, TypeError) as error:
            raise TelemetryError(f"{path} is no log of json lines; choose another file") from error
        report = ColumnReport(
            column="n", meaning="rpm", unit="rpm", rows_kept=len(rows), rows_dropped=0, why=""
        )
        return ImportedTelemetry(frame=frame, columns=(report,))


class OtherJsonImporter(JsonImporter):
    name = "other"


class WrongImporter(JsonImporter):
    name = "wrong"

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        return ImportedTelemetry(frame=pd.DataFrame({"time_s": [1.0, 0.0], "rpm": [1.0, 2.0]}))


class EmptyHandedImporter(JsonImporter):
    name = "wrong"

    def read(self, path: Path, options: TelemetryOptions) -> Any:
        return None


class TablelessImporter(JsonImporter):
    name = "wrong"

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        frame: Any = [[0.0, 1.0]]
        return ImportedTelemetry(frame=frame)


class RowlessImporter(JsonImporter):
    name = "wrong"

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        return ImportedTelemetry(frame=pd.DataFrame({"time_s": [], "rpm": []}, dtype=np.float64))


class FaultyImporter(JsonImporter):
    """Other people's code with a fault in it."""

    name = "faulty"
    fault: BaseException = ValueError("could not convert\nstring to float: 'n/a'")

    def read(self, path: Path, options: TelemetryOptions) -> ImportedTelemetry:
        raise self.fault


class FaultyLookImporter(FaultyImporter):
    def recognises(self, path: Path) -> bool:
        raise self.fault


class FaultyStartImporter(FaultyImporter):
    def __init__(self) -> None:
        raise self.fault


class NamelessImporter(FaultyImporter):
    """One whose name cannot be asked for."""

    @property
    def name(self) -> str:  # type: ignore[override]
        raise self.fault


def point(name: str, value: str) -> EntryPoint:
    return EntryPoint(
        name=name, value=f"tests.logger.importing.test_importers:{value}", group=ENTRY_POINT_GROUP
    )


JSON_POINT = point("json-lines", "JsonImporter")


def write_csv(path: Path) -> None:
    rows = [f"{t},{n},{la}\n" for t, n, la in zip(TIMES_S, RPM, LEVEL_DB, strict=True)]
    path.write_text("time_s,rpm,LAeq\n" + "".join(rows))


def write_json(path: Path) -> None:
    rows = zip(TIMES_S, RPM, LEVEL_DB, strict=True)
    path.write_text("".join(json.dumps({"t": t, "n": n, "la": la}) + "\n" for t, n, la in rows))


IMPORTERS = [(CsvImporter(), write_csv), (JsonImporter(), write_json)]


@pytest.mark.parametrize(("importer", "write"), IMPORTERS, ids=["csv", "json-lines"])
class TestContract:
    def test_it_has_what_the_protocol_asks(
        self, tmp_path: Path, importer: TelemetryImporter, write: Callable[[Path], None]
    ) -> None:
        assert isinstance(importer, TelemetryImporter)
        assert importer.name

    def test_it_reads_its_file_and_leaves_it_alone(
        self, tmp_path: Path, importer: TelemetryImporter, write: Callable[[Path], None]
    ) -> None:
        write(tmp_path / "log")
        before = (tmp_path / "log").read_bytes()
        assert importer.recognises(tmp_path / "log")
        got = importer.read(tmp_path / "log", TelemetryOptions())
        check_telemetry(importer.name, got)
        assert got.frame["time_s"].tolist() == TIMES_S
        assert got.frame["rpm"].tolist() == RPM
        assert got.frame["level_a_db"].tolist() == LEVEL_DB
        assert "rpm" in {report.meaning for report in got.columns}
        assert (tmp_path / "log").read_bytes() == before

    def test_it_refuses_with_a_telemetry_error(
        self, tmp_path: Path, importer: TelemetryImporter, write: Callable[[Path], None]
    ) -> None:
        (tmp_path / "log").write_bytes(b"{no such thing\n" * 3)
        importer.recognises(tmp_path / "log")
        with pytest.raises(TelemetryError):
            importer.read(tmp_path / "log", TelemetryOptions())


def read(path: Path, *installed: EntryPoint, importer: str | None = None) -> ImportedTelemetry:
    return read_telemetry_file(path, TelemetryOptions(), importer=importer, installed=installed)


@pytest.fixture
def _json_is_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("logger.importing.plugins.entry_points", lambda *, group: (JSON_POINT,))


@pytest.mark.usefixtures("_json_is_installed")
def test_the_importer_that_knows_the_file_reads_it(tmp_path: Path) -> None:
    write_json(tmp_path / "log")
    import_session(ImportRequest(telemetry=(tmp_path / "log",)), tmp_path / "s")
    assert read_session(tmp_path / "s").telemetry["rpm"].tolist() == RPM


@pytest.mark.usefixtures("_json_is_installed")
def test_a_checkout_that_was_never_installed_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the same words as ``record``, ``check`` and ``report``."""
    write_json(tmp_path / "log")
    monkeypatch.setattr("logger.software.version", _not_there)
    import_session(ImportRequest(telemetry=(tmp_path / "log",)), tmp_path / "s")
    assert read_session(tmp_path / "s").metadata.software_version == "not installed"


def _not_there(name: str) -> str:
    raise PackageNotFoundError(name)


def test_csv_stays_in_use_beside_others(tmp_path: Path) -> None:
    write_csv(tmp_path / "log")
    assert read(tmp_path / "log", JSON_POINT).frame["rpm"].tolist() == RPM


def test_an_importer_can_be_asked_for(tmp_path: Path) -> None:
    write_json(tmp_path / "log")
    points = (JSON_POINT, point("other", "OtherJsonImporter"))
    with pytest.raises(TelemetryError, match="--importer json-lines or other"):
        read(tmp_path / "log", *points)
    assert read(tmp_path / "log", *points, importer="other").frame["rpm"].tolist() == RPM
    with pytest.raises(TelemetryError, match="one of: gpx, nmea, csv, json-lines, other"):
        read(tmp_path / "log", *points, importer="xml")
    with pytest.raises(TelemetryError):
        read(tmp_path / "log", *points, importer="csv")


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("NoSuchThing", "cannot be loaded"),
        ("TIMES_S", "lacks name, recognises or read"),
        ("WrongImporter", "times that do not rise"),
        ("EmptyHandedImporter", "it gave no ImportedTelemetry but NoneType"),
        ("TablelessImporter", "its frame is no table but list"),
        ("RowlessImporter", "it gave no row"),
    ],
)
def test_a_broken_importer_is_named(tmp_path: Path, value: str, said: str) -> None:
    write_json(tmp_path / "log")
    with pytest.raises(TelemetryError, match=rf"importer wrong .*{said}"):
        read(tmp_path / "log", point("wrong", value), importer="wrong")


@pytest.mark.parametrize(
    "fault",
    [
        ValueError("could not convert\nstring to float: 'n/a'"),
        KeyError("rpm"),
        ZeroDivisionError(),
        UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid start byte"),
        PermissionError(13, "Permission denied"),
        RuntimeError("no state"),
        struct.error("unpack requires a buffer of 8 bytes"),
        AssertionError(),
        SystemExit(0),
    ],
)
@pytest.mark.parametrize(
    "value",
    ["FaultyImporter", "FaultyLookImporter", "FaultyStartImporter", "NamelessImporter"],
)
def test_a_fault_in_an_importer_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, value: str, fault: BaseException
) -> None:
    monkeypatch.setattr(FaultyImporter, "fault", fault)
    write_json(tmp_path / "log")
    with pytest.raises(TelemetryError, match=type(fault).__name__) as refusal:
        read(tmp_path / "log", point("faulty", value))
    assert "\n" not in str(refusal.value)
    assert "faulty" in str(refusal.value)


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"time_s": [0.0, 1.0]}, "neither rpm nor road speed"),
        ({"time_s": [0.0, 1.0], "rpm": [1, 2]}, "not float64"),
        ({"time_s": [0.0, 1.0], "rpm": [1.0, np.inf]}, "infinite"),
        ({"time_s": [0.0, np.nan], "rpm": [1.0, 2.0]}, "do not rise"),
        ({"time_s": [0.0, 1.0], "rpm": [1.0, 2.0], "mood": [1.0, 2.0]}, "the column mood"),
    ],
)
def test_what_breaks_the_contract_is_told(columns: dict[str, list[float]], said: str) -> None:
    with pytest.raises(TelemetryError, match=said):
        check_telemetry("x", ImportedTelemetry(frame=pd.DataFrame(columns)))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"notes": (1, None)}, "notes that are no tuple of texts"),
        ({"notes": "one text"}, "notes that are no tuple of texts"),
        ({"start": "yesterday"}, "a start that is no time with its time zone"),
        ({"start": datetime(2024, 6, 8)}, "a start that is no time with its time zone"),
        ({"columns": [1]}, "columns that are no tuple of ColumnReport"),
        ({"columns": (None,)}, "columns that are no tuple of ColumnReport"),
    ],
)
def test_an_account_that_cannot_be_kept_is_told_before_anything_is_written(
    fields: dict[str, Any], said: str
) -> None:
    frame = pd.DataFrame({"time_s": [0.0, 1.0], "rpm": [1.0, 2.0]})
    with pytest.raises(TelemetryError, match=said):
        check_telemetry("x", ImportedTelemetry(frame=frame, **fields))
