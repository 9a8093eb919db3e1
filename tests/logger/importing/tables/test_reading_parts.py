"""The parts of the CSV importer by themselves: names, numbers, clocks, order of rows."""
# SPDX-License-Identifier: GPL-2.0-or-later

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.errors import TelemetryError
from logger.folder.quantities import COLUMNS
from logger.importing.tables.column_names import kinds_of, read_column_name, weighting_of
from logger.importing.tables.number_text import find_decimal_sign, parse_numbers
from logger.importing.tables.row_order import order_rows
from logger.importing.tables.time_columns import times_from_clock, times_from_numbers
from logger.importing.tables.time_text import clock_seconds, iso_seconds, short_clock_seconds
from logger.importing.tables.units import find_unit

RPM_NAMES = [
    *("RPM", "rpm", "Engine speed (rpm)", "engine_rpm", "EngineSpeed", "Engine RPM(rpm)"),
    *("Drehzahl [1/min]", "Motordrehzahl", "rev/min", "U/min", "Drehzahl min⁻¹", "n_Mot"),
    *("Régime moteur (tr/min)", "Giri motore", "engine.rpm", "RPM (x1000)", "Speed [r/min]"),
]
SPEED_NAMES = [
    *("speed [mph]", "Vehicle speed km/h", "speed_kmh", "Speed (GPS)(mph)", "Vitesse (km/h)"),
    *("Geschwindigkeit in km/h", "velocity m/s", "GPS Speed (kn)", "VSS", "Road Speed"),
]
TIME_NAMES = [
    *("time_s", "time (ms)", "Time", "Zeit [s]", "t", "s", "Elapsed time", "Timestamp"),
    *("Device Time", "Date/Time", "Uhrzeit", "Temps (s)", "millis", "t [s]", "Seconds"),
]
LEVELS = {
    "LAeq dB(A)": "a",
    "dB(A)": "a",
    "dBA": "a",
    "L_Aeq": "a",
    "LAF [dB]": "a",
    "A-weighted level": "a",
    "LAeq, 1 s": "a",
    "LCeq": "c",
    "Schallpegel dB(C)": "c",
    "LZeq": "z",
    "unweighted level dB": "z",
    "SPL [dB]": None,
    "Sound level": None,
    "Leq": None,
}
SOMETHING_ELSE = [
    *("Wheel RPM", "Target RPM", "RPM/s", "Turbo speed (rpm)", "Fuel level (%)", "Lap time"),
    *("LAFmax", "LCpeak", "LA90", "63 Hz", "Latitude", "Longitude", "Gear", "Timing advance (°)"),
    *("Engine run time (s)", "Air speed", "Boost (psi)", "Coolant level", "Max speed (mph)", ""),
]


@pytest.mark.parametrize(
    ("name", "kind"),
    [(name, "rpm") for name in RPM_NAMES]
    + [(name, "road_speed_m_s") for name in SPEED_NAMES]
    + [(name, "time_s") for name in TIME_NAMES],
)
def test_usual_names(name: str, kind: str) -> None:
    assert kinds_of(read_column_name(name)) == (kind,)


@pytest.mark.parametrize(("name", "weighting"), LEVELS.items())
def test_levels_and_their_weighting(name: str, weighting: str | None) -> None:
    column = read_column_name(name)
    assert kinds_of(column) == ("level",)
    assert weighting_of(column) == weighting


@pytest.mark.parametrize("name", SOMETHING_ELSE)
def test_names_of_something_else(name: str) -> None:
    assert kinds_of(read_column_name(name)) == ()


@pytest.mark.parametrize("name", COLUMNS)
def test_a_sessions_own_columns_are_known(name: str) -> None:
    column = read_column_name(name)
    expected = "level" if name.startswith("level") else name
    assert kinds_of(column) == (expected,)
    if expected == "level":
        assert f"level_{weighting_of(column)}_db" == name


@pytest.mark.parametrize(
    ("quantity", "spelling", "value", "expected"),
    [  # NIST SP 811 (2008) appendix B.8 and B.9, from memory
        ("speed", "mph", 100.0, 44.704),
        ("speed", "km/h", 36.0, 10.0),
        ("speed", "kn", 3600.0, 1852.0),
        ("temperature", "°F", 212.0, 100.0),
        ("temperature", "K", 273.15, 0.0),
        ("pressure", "psi", 1.0, 6.894757),
        ("pressure", "inHg", 1.0, 3.386389),
        ("pressure", "mbar", 1013.25, 101.325),
        ("rpm", "rad/s", 2 * np.pi, 60.0),
        ("rpm", "1/s", 50.0, 3000.0),
    ],
)
def test_units(quantity: str, spelling: str, value: float, expected: float) -> None:
    unit = find_unit(quantity, spelling)
    assert unit is not None
    assert value * unit.factor + unit.offset == pytest.approx(expected, rel=1e-6, abs=1e-9)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1), st.sampled_from([".", ","]))
def test_numbers_come_back_exactly(values: list[float], decimal: str) -> None:
    cells = [repr(value).replace(".", decimal) for value in values]
    got = parse_numbers(cells, decimal)
    assert got.values.tolist() == values
    assert got.not_numbers == 0


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1,234", ".", 1234.0),
        ("1,234.5", ".", 1234.5),
        ("1.234", ",", 1234.0),
        ("1.234,5", ",", 1234.5),
        ("+3e2", ".", 300.0),
        (" 7 ", ",", 7.0),
    ],
)
def test_parted_thousands(cell: str, decimal: str, value: float) -> None:
    assert parse_numbers([cell], decimal).values.tolist() == [value]


def test_what_is_no_number_is_counted() -> None:
    cells = ["", "-", "n/a", "NaN", "fast", "inf", "1_000", "1,2,3", "12 mice"]
    got = parse_numbers(cells, ".")
    assert np.isnan(got.values).all()
    assert got.not_numbers == 5
    assert got.units == {}


@pytest.mark.parametrize(
    ("cells", "decimal"),
    [
        (["1", "2"], "."),
        (["1,5", "1,234"], ","),
        (["0,125"], ","),
        (["1234,567"], ","),
        (["1.5", "1,234"], "."),
        (["1.234", "2,5"], ","),
        (["1,234.5"], "."),
        (["1.234,5"], ","),
        (["12:00:01,5", "text, too"], "."),
    ],
)
def test_the_decimal_sign(cells: list[str], decimal: str) -> None:
    assert find_decimal_sign(cells) == decimal


@pytest.mark.parametrize("cells", [["1,234"], ["1,5", "1.5"]])
def test_an_open_decimal_sign_is_asked_for(cells: list[str]) -> None:
    with pytest.raises(TelemetryError, match="--decimal"):
        find_decimal_sign(cells)


@given(st.datetimes(datetime(1970, 1, 2), datetime(2100, 1, 1)), st.integers(-14 * 60, 14 * 60))
def test_iso_stamps_agree_with_the_calendar_of_python(time: datetime, zone_min: int) -> None:
    zoned = time.replace(tzinfo=timezone(timedelta(minutes=zone_min)))
    assert iso_seconds(zoned.isoformat()) == pytest.approx(zoned.timestamp(), abs=1e-5)
    assert iso_seconds(time.isoformat(" ", "microseconds") + "Z") == pytest.approx(
        time.replace(tzinfo=UTC).timestamp(), abs=1e-5
    )


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        ("13:05:12.345", 47112.345),
        ("13:05:12,345", 47112.345),
        ("13:05:12:345", 47112.345),
        ("1:05:12 PM", 47112.0),
        ("12:00:00 am", 0.0),
        ("12:00:00 p.m.", 43200.0),
        ("03/05/2024 13:05:12", 47112.0),
        ("13:05:60", 47160.0),
        ("13:65:00", None),
        ("13:00:00 PM", None),
        ("noon", None),
    ],
)
def test_clocks(cell: str, seconds: float | None) -> None:
    assert clock_seconds(cell) == (None if seconds is None else pytest.approx(seconds))


@pytest.mark.parametrize(
    ("values", "reader", "expected"),
    [
        ([86399.0, 0.0, 1.0], clock_seconds, [86399.0, 86400.0, 86401.0]),
        ([46799.0, 3600.0, 3601.0], clock_seconds, [46799.0, 46800.0, 46801.0]),
        ([3599.5, 0.5, 1.5], short_clock_seconds, [3599.5, 3600.5, 3601.5]),
        ([100.0, np.nan, 99.0, 101.0], clock_seconds, [100.0, np.nan, 99.0, 101.0]),
    ],
    ids=["midnight", "twelve hours", "an hour", "a step back"],
)
def test_clocks_go_on_where_they_start_again(
    values: list[float], reader: object, expected: list[float]
) -> None:
    assert callable(reader)
    times = times_from_clock(np.array(values), reader, has_zone=False)
    np.testing.assert_array_equal(times.seconds, expected)


@pytest.mark.parametrize(
    ("values", "unit"),
    [([0, 0.1, 0.2], "s"), ([5, 6, 7, 8], "s"), ([0, 50, 100], "ms"), ([1000, 2000, 3000], "ms")],
)
def test_the_unit_of_time_from_its_steps(values: list[float], unit: str) -> None:
    times = times_from_numbers(np.array(values, float), column="t", unit="", asked=None)
    assert times.unit == unit
    assert times.is_relative
    assert times.notes


def test_rows_that_stay_rise_and_none_is_made_up() -> None:
    rng = np.random.default_rng(5)
    for _ in range(400):
        count = int(rng.integers(0, 40))
        spread = rng.choice([0.0, 1.0, 1000.0])  # equal, rising with slips, or in any order
        times_s = np.round(np.linspace(0.0, 10.0, count) + spread * rng.random(count), 2)
        times_s[rng.random(count) < rng.choice([0.0, 0.1])] = np.nan
        try:
            order = order_rows(times_s, np.arange(float(count))[:, np.newaxis])
        except TelemetryError:
            continue
        assert (np.diff(order.times_s) > 0.0).all(), times_s
        assert len(set(order.rows.tolist())) == order.rows.size, times_s
        assert order.rows.size + sum(order.dropped.values()) == times_s.size, times_s
        if not order.notes:
            np.testing.assert_array_equal(order.times_s, times_s[order.rows])


def test_single_wild_stamps_cost_only_their_own_row() -> None:
    rng = np.random.default_rng(6)
    for _ in range(100):
        count = int(rng.integers(20, 200))
        times_s = np.linspace(0.0, 0.1 * (count - 1), count)
        wild = set(rng.integers(3, count - 3, size=int(rng.integers(1, 3))).tolist())
        times_s[list(wild)] = rng.choice([-5.0, 1e6], size=len(wild))
        order = order_rows(times_s, np.zeros((count, 1)))
        assert order.rows.tolist() == [row for row in range(count) if row not in wild], times_s


def test_a_log_written_twice_is_not_taken_for_a_coarse_clock() -> None:
    times_s = np.repeat(np.arange(10.0), 2)
    values = np.repeat(np.linspace(1000.0, 2000.0, 10), 2)[:, np.newaxis]
    order = order_rows(times_s, values)
    assert order.times_s.tolist() == list(range(10))
    assert order.dropped == {"repeated time": 10}
