"""When a log began: dates as people write them, open ones asked about, local time not UTC."""
# SPDX-License-Identifier: GPL-2.0-or-later

import os
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import soundfile

from logger.errors import TelemetryError
from logger.importing.import_session import import_session
from logger.importing.plugins import read_telemetry_file
from logger.importing.request import ImportedTelemetry, ImportRequest, TelemetryOptions
from logger.importing.tables.date_text import possible_dates
from logger.session import read_session
from tests.logger.folders import noise

JUNE, AUGUST = date(2025, 6, 8), date(2025, 8, 6)


@pytest.fixture(autouse=True)
def far_from_greenwich(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer five hours behind, without a change of clocks (POSIX: the sign is turned)."""
    if not hasattr(time, "tzset"):
        pytest.skip("this system cannot change its time zone for a test")
    monkeypatch.setenv("TZ", "XXX5")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("text", "dates"),
    [
        ("2025-06-08", (JUNE,)),
        ("2025/6/8", (JUNE,)),
        ("2025.06.08", (JUNE,)),
        ("08-Jun-2025", (JUNE,)),
        ("8 June 2025", (JUNE,)),
        ("Jun 8, 2025", (JUNE,)),
        ("June 8th 2025", (JUNE,)),
        ("8. Juni 2025", (JUNE,)),
        ("8 juin 2025", (JUNE,)),
        ("8 de junio de 2025", (JUNE,)),
        ("8 июня 2025", (JUNE,)),
        ("2025年6月8日", (JUNE,)),
        ("08Jun25", (JUNE,)),
        ("06/08/2025", (AUGUST, JUNE)),
        ("08.06.2025", (JUNE, AUGUST)),
        ("08-06-25", (JUNE, AUGUST)),
        ("08.06.2025 10:05:12,5", (JUNE, AUGUST)),
        ("13/06/2025", (date(2025, 6, 13),)),
        ("06/13/2025", (date(2025, 6, 13),)),
        ("06/06/2025", (date(2025, 6, 6),)),
        ("31.02.2025", ()),
        ("10:05:12", ()),
        ("1.2.3.4", ()),
        ("version 1.2.25", ()),
        ("12.5", ()),
        ("engine 2500 rpm", ()),
    ],
)
def test_dates_as_people_write_them(text: str, dates: tuple[date, ...]) -> None:
    assert possible_dates(text) == dates


def log(head: str, stamp: str, *, later: str | None = None) -> str:
    """Write three rows a second apart; ``stamp`` ends in the seconds of the first."""
    stamps = [f"{stamp}{seconds:02d}" for seconds in (12, 13)] + [later or f"{stamp}14"]
    rows = [f"{each};{n};60" for each, n in zip(stamps, (900, 910, 920), strict=True)]
    return "\n".join([head, *rows, ""])


def read(folder: Path, content: str, order: str | None = None) -> ImportedTelemetry:
    path = folder / "log.csv"
    path.write_text(content, encoding="utf-8")
    return read_telemetry_file(
        path, TelemetryOptions(date_order=order), importer=None, installed=()
    )


HEAD = "Time;RPM;LAeq"
LOCAL = datetime(2025, 6, 8, 15, 5, 12, tzinfo=UTC)  # five past ten, five hours behind


@pytest.mark.parametrize(
    ("content", "order", "start"),
    [
        (log(HEAD, "2025-06-08T10:05:") + "", None, LOCAL),
        (log(HEAD, "2025-06-08 10:05:"), None, LOCAL),
        (log(HEAD, "08-Jun-2025 10:05:"), None, LOCAL),
        (log(HEAD, "08.06.2025 10:05:"), "dmy", LOCAL),
        (log(HEAD, "06/08/2025 10:05:"), "mdy", LOCAL),
        (log(HEAD, "06/08/2025 10:05:"), "dmy", datetime(2025, 8, 6, 15, 5, 12, tzinfo=UTC)),
        (log(HEAD, "13/06/2025 10:05:"), None, datetime(2025, 6, 13, 15, 5, 12, tzinfo=UTC)),
        (log(f"Date;{HEAD}", "08-Jun-2025;10:05:"), None, LOCAL),
        (log(f"Datum;{HEAD}", "08.06.2025;10:05:"), "dmy", LOCAL),
        (f"Recorded: 08-Jun-2025 10:05:12\n{log(HEAD, '0.')}", None, LOCAL),
        (f"Date: 2025-06-08\nDriver;A\n{log(HEAD, '10:05:')}", None, LOCAL),
        (f"Date: 08-Jun-2025\nStart: 10:05:12\n{log(HEAD, '0.')}", None, LOCAL),
        (f"Saved: 2025-06-09 08:00:00\nStart: 2025-06-08 10:05:12\n{log(HEAD, '0.')}", None, LOCAL),
        (f"Saved: 2025-06-09 08:00:00\nSold: 2025-06-08 10:05:12\n{log(HEAD, '0.')}", None, None),
        (log(HEAD, "10:05:"), None, None),
        (log(HEAD, "0."), None, None),
    ],
)
def test_the_start_of_a_log(
    tmp_path: Path, content: str, order: str | None, start: datetime | None
) -> None:
    got = read(tmp_path, content, order)
    assert got.start == start
    assert got.start_question == ""
    assert any("local time" in note for note in got.notes) == (start is not None)


def test_other_dates_of_the_log_settle_which_is_the_day(tmp_path: Path) -> None:
    over_midnight = log(HEAD, "12/06/2025 23:59:", later="13/06/2025 00:00:01")
    got = read(tmp_path, over_midnight)
    assert got.start == datetime(2025, 6, 13, 4, 59, 12, tzinfo=UTC)


@pytest.mark.parametrize("stamp", ["06/08/2025 10:05:", "08.06.2025 10:05:"])
def test_an_open_date_is_asked_about_once(tmp_path: Path, stamp: str) -> None:
    (tmp_path / "a.csv").write_text(log(HEAD, stamp))
    request = ImportRequest(telemetry=(tmp_path / "a.csv",))
    with pytest.raises(TelemetryError, match=r"8 June 2025.*--date-order.*--started") as asked:
        import_session(request, tmp_path / "s")
    assert "6 August 2025" in str(asked.value)
    assert not (tmp_path / "s").exists()
    told = ImportRequest(telemetry=(tmp_path / "a.csv",), started=LOCAL)
    import_session(told, tmp_path / "s")
    assert read_session(tmp_path / "s").metadata.start_time_utc == LOCAL
    with pytest.raises(TelemetryError, match="--date-order ymd is not known; use dmy or mdy"):
        read(tmp_path, log(HEAD, stamp), "ymd")


def test_the_files_own_time_comes_last_and_is_told(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", noise(5.0, 1), 8000, subtype="PCM_16")
    ended = datetime(2025, 6, 8, 15, 5, 17, tzinfo=UTC).timestamp()
    os.utime(tmp_path / "a.wav", (ended, ended))
    summary = import_session(ImportRequest(audio=(tmp_path / "a.wav",)), tmp_path / "s")
    metadata = read_session(tmp_path / "s").metadata
    assert metadata.start_time_utc == LOCAL
    assert metadata.start_time_from == "file"
    assert any("a.wav was last written" in note for note in summary.notes)
    (tmp_path / "a.csv").write_text(log(HEAD, "2025-06-07 10:05:"))
    both = ImportRequest(audio=(tmp_path / "a.wav",), telemetry=(tmp_path / "a.csv",))
    import_session(both, tmp_path / "t")
    metadata = read_session(tmp_path / "t").metadata
    assert metadata.start_time_utc == datetime(2025, 6, 7, 15, 5, 12, tzinfo=UTC)
    assert metadata.start_time_from == "log"
