"""Nasty files written by hand, and beside each what a careful person reads in it.

The expected numbers are worked out from the text of each file with the exact definitions
1 mph = 0.44704 m/s, 1 km/h = 1/3.6 m/s, degC = (degF - 32) 5/9, 1 psi = 6.894757 kPa (NIST SP 811,
from memory).
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from dataclasses import dataclass, field
from datetime import UTC, datetime
from math import nan
from pathlib import Path

import numpy as np
import pytest

from logger.importing.request import ImportedTelemetry, TelemetryOptions
from logger.importing.tables.telemetry_csv import CsvImporter

EXAMPLES = Path(__file__).parent / "csv_examples"


@dataclass(frozen=True, kw_only=True)
class Expected:
    table: dict[str, list[float]]
    start: datetime | None = None
    dropped: dict[str, dict[str, int]] | None = None
    options: TelemetryOptions = field(default_factory=TelemetryOptions)


EXPECTED = {
    # semicolons, decimal comma, cp1252, preamble, units row, a delimiter at each end, CRLF
    "german_units_row": Expected(
        table={
            "time_s": [0.0, 0.5, 1.0, 1.5],
            "rpm": [1500.0, 1512.5, 1525.0, 1540.0],
            "road_speed_m_s": [15.0, 54.4 / 3.6, nan, 55.1 / 3.6],
            "coolant_temperature_degc": [82.0, 82.0, 83.0, 83.0],
            "level_a_db": [66.5, 67.0, 67.25, 68.0],
        },
    ),
    # quoted headers, BOM, ISO 8601 with zone, mph and Fahrenheit, parted thousands, a cut line
    "phone_app_iso": Expected(
        table={
            "time_s": [0.0, 0.25, 0.5, 0.75],
            "rpm": [812.0, nan, 1024.0, 1100.0],
            "road_speed_m_s": [0.0, 2.2352, 4.4704, 5.36448],
            "throttle_percent": [14.5, 14.9, 15.3, 15.3],
            "coolant_temperature_degc": [80.0, 80.0, nan, 81.5],
        },
        start=datetime(2024, 5, 3, 12, 2, 10, tzinfo=UTC),
        dropped={
            "Device Time": {"row holds no value": 1},
            "Engine RPM(rpm)": {"16383.75 is a mark for no value": 1},
        },
    ),
    # tabs, UTF-16, a clock that passes midnight
    "utf16_over_midnight": Expected(
        table={
            "time_s": [0.0, 0.75, 1.5, 2.25],
            "rpm": [2000.0, 2010.0, 2020.0, 2030.0],
            "level_c_db": [88.1, 88.4, 88.9, 89.3],
        },
    ),
    # a millisecond counter, CR line ends, other columns of revolutions that are not the engine's
    "milliseconds_cr": Expected(
        table={
            "time_s": [1.0, 1.05, 1.1],
            "rpm": [1800.0, 1804.0, 1809.0],
            "load_percent": [35.0, 35.5, 36.0],
            "level_z_db": [91.0, 91.2, 91.1],
        },
    ),
    # repeated, backward and unreadable rows, NUL bytes, a header in the middle, a cut last line
    "damaged_rows": Expected(
        table={
            "time_s": [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7],
            "rpm": [1000.0, 1010.0, 1020.0, nan, nan, 1050.0, nan, 1070.0],
            "level_a_db": [60.0, 61.0, 62.0, 63.0, 64.0, 65.0, 66.0, 67.0],
        },
        dropped={
            "time_s": {"no readable time": 2, "time runs backward": 1, "repeated time": 1},
            "rpm": {"not a number": 3, "outside 0 to 20000": 1, "row has no usable time": 2},
        },
    ),
    # pipes, twelve-hour clock in whole seconds with two rows each
    "coarse_clock_pipe": Expected(
        table={
            "time_s": [0.0, 0.5, 1.0, 1.5, 2.0, 2.5],
            "rpm": [1200.0, 1210.0, 1220.0, 1230.0, 1240.0, 1250.0],
            "level_a_db": [70.0, 70.0, 71.0, 71.0, 72.0, 72.0],
        },
    ),
    # Latin-1, French names
    "french_latin1": Expected(
        table={
            "time_s": [0.0, 0.2, 0.4],
            "rpm": [2000.0, 2004.0, 2009.5],
            "road_speed_m_s": [20.0, 72.1 / 3.6, 72.2 / 3.6],
            "level_a_db": [70.1, 70.4, 70.2],
        },
    ),
    # milliseconds since 1970, without a unit: `date -u -d @1714744930` says 3 May 2024 14:02:10
    "epoch_ms": Expected(
        table={
            "time_s": [0.0, 0.1, 0.2],
            "rpm": [900.0, 905.0, 910.0],
            "level_c_db": [75.0, 75.5, 76.0],
        },
        start=datetime(2024, 5, 3, 14, 2, 10, tzinfo=UTC),
    ),
    # thousands of rpm, psi, values that come in different rows, a row without any
    "interleaved_krpm": Expected(
        table={
            "time_s": [5.0, 5.1, 5.2, 5.4, 5.5],
            "rpm": [2100.0, nan, 2200.0, 2300.0, 2400.0],
            "manifold_pressure_kpa": [nan, 68.94757, nan, 75.842327, nan],
            "level_z_db": [nan, nan, 80.0, 80.5, 81.0],
        },
        dropped={"t [s]": {"row holds no value": 1}},
    ),
    # day.month.year before a clock with a decimal comma, thousands parted by points
    "dated_clock": Expected(
        table={
            "time_s": [0.0, 0.5, 1.0],
            "rpm": [2000.0, 2010.0, 2020.5],
            "level_a_db": [70.5, 71.5, 72.5],
        },
        start=datetime(2023, 12, 31, 23, 59, 59, 500_000).astimezone(UTC),
    ),
    "newest_first": Expected(
        table={
            "time_s": [0.5, 1.0, 1.5, 2.0],
            "rpm": [1000.0, 1100.0, 1200.0, 1300.0],
            "level_a_db": [68.0, 69.0, 70.0, 71.0],
        },
    ),
    "no_header": Expected(
        table={
            "time_s": [0.0, 0.5, 1.0],
            "rpm": [800.0, 820.0, 840.0],
            "level_z_db": [61.0, 62.0, 63.0],
        },
        options=TelemetryOptions(
            time_column="1", rpm_column="2", level_column="3", level_weighting="Z", time_unit="s"
        ),
    ),
}


def read_example(name: str) -> ImportedTelemetry:
    return CsvImporter().read(EXAMPLES / f"{name}.csv", EXPECTED[name].options)


def test_every_example_has_its_expectation() -> None:
    assert {path.stem for path in EXAMPLES.glob("*.csv")} == set(EXPECTED)


@pytest.mark.parametrize("name", EXPECTED)
def test_a_careful_person_and_the_importer_read_the_same(name: str) -> None:
    expected = EXPECTED[name]
    got = read_example(name)
    assert list(got.frame.columns) == list(expected.table)
    for column, values in expected.table.items():
        np.testing.assert_allclose(
            got.frame[column].to_numpy(), values, rtol=1e-12, atol=1e-6, err_msg=column
        )
    assert got.start == expected.start


@pytest.mark.parametrize("name", [name for name, case in EXPECTED.items() if case.dropped])
def test_what_was_dropped_is_told_with_its_reason(name: str) -> None:
    reports = {report.column: report for report in read_example(name).columns}
    for column, reasons in (EXPECTED[name].dropped or {}).items():
        assert reports[column].rows_dropped == sum(reasons.values())
        for reason, count in reasons.items():
            assert f"{reason}: {count}" in reports[column].why


def test_columns_that_are_not_used_are_listed_too() -> None:
    reports = {report.column: report for report in read_example("phone_app_iso").columns}
    assert reports["Longitude"].meaning == ""
    assert reports["Longitude"].why == "not used"


def test_a_column_that_changes_quantity_is_not_taken() -> None:
    meanings = {each.column: each.meaning for each in read_example("milliseconds_cr").columns}
    assert meanings["wheel rpm"] == ""
    assert meanings["target rpm"] == ""
