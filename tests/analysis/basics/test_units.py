"""Lengths, temperatures and speeds as people type them. Factors: 1 in = 25.4 mm by definition."""
# SPDX-License-Identifier: GPL-2.0-or-later

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.basics import units
from analysis.errors import QuantityError
from analysis.words import lengths, quantities


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("2.5 in", 63.5),
        ("2 1/2 in", 63.5),
        ('2-1/2"', 63.5),
        ("2½″", 63.5),
        ("63,5 mm", 63.5),
        (" 63.5MM ", 63.5),
        ("0,500 m", 500.0),
        (".5 in", 12.7),
        ("5/8 in", 15.875),
        ("8.44 ft", 2572.512),
        ("5 ft 6 in", 1676.4),
        ("5' 6 1/2\"", 1689.1),
        ("227 cm", 2270.0),
        ("2.27 m", 2270.0),
    ],
)
def test_lengths(text: str, millimetres: float) -> None:
    assert 1e3 * units.parse_length_m(text) == pytest.approx(millimetres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("63.5", "no unit"),
        ("", "number"),
        ("mm", "number"),
        ("1,000 mm", "two ways"),
        ("1,125.33 ft", "more than one point"),
        ("1.000.5 mm", "more than one point"),
        ("9**9**9", "unit"),
        ("1e3 mm", "unit"),
        ("2*3 in", "unit"),
        ("2 in in", "unit"),
        ("63.5 furlong", "unit"),
        ("250 degC", "unit"),
        ("nan mm", "number"),
        ("inf mm", "number"),
        ("٣ mm", "number"),
        ("5/0 in", "zero"),
        ("-3 mm", "not possible"),
        ("0 mm", "not possible"),
        ("500 m", "not possible"),
        ("3 ft 14 in", "unit"),
        ("9" * 80 + " mm", "too long"),
    ],
)
def test_what_is_not_a_length_is_refused_in_one_line(text: str, why: str) -> None:
    with pytest.raises(QuantityError, match=why) as caught:
        units.parse_length_m(text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("250 degC", 523.15),
        ("250 °C", 523.15),
        ("250ºC", 523.15),
        ("-10 C", 263.15),
        ("480 degF", 522.0388889),
        ("32 °F", 273.15),
        ("500 K", 500.0),
    ],
)
def test_temperatures(text: str, kelvin: float) -> None:
    assert units.parse_temperature_range_k(text).low == pytest.approx(kelvin, abs=1e-6)


def test_temperature_ranges() -> None:
    span = units.parse_temperature_range_k("100..200 degC")
    assert (span.low, span.high) == pytest.approx((373.15, 473.15))
    mixed = units.parse_temperature_range_k("100 degC to 392 degF")
    assert (mixed.low, mixed.high) == pytest.approx((373.15, 473.15))
    one = units.parse_temperature_range_k("140 degC")
    assert one.low == one.high == pytest.approx(413.15)


@pytest.mark.parametrize("text", ["200..100 degC", "100..200", "100-200 degC", "..200 degC", "1.."])
def test_bad_temperature_ranges_are_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        units.parse_temperature_range_k(text)


@given(st.text(max_size=70))
def test_any_text_gives_a_value_or_one_plain_line(text: str) -> None:
    for parse in (units.parse_length_m, units.parse_temperature_range_k):
        refusal = ""
        try:
            parse(text)
        except QuantityError as error:
            refusal = str(error)
        assert "\n" not in refusal


@given(st.integers(0, 90), st.integers(1, 15), st.sampled_from(["{} {}/16 in", "{}-{}/16 in"]))
def test_mixed_numbers_read_as_their_sum(whole: int, sixteenths: int, form: str) -> None:
    read_m = units.parse_length_m(form.format(whole, sixteenths))
    assert read_m == pytest.approx((whole + sixteenths / 16) * 0.0254, rel=1e-12)


@given(st.integers(1, 600))
def test_what_the_tape_shows_reads_back(sixteenths: int) -> None:
    length_m = sixteenths / 16 * 0.0254
    assert units.parse_length_m(lengths.sixteenths(length_m)) == pytest.approx(length_m)


@given(st.floats(0.001, 5.0))
def test_printed_lengths_read_back_within_their_last_digit(length_m: float) -> None:
    back_m = units.parse_length_m(lengths.millimetres(length_m))
    assert back_m == pytest.approx(length_m, abs=0.51e-4)
    short = length_m <= 0.0009
    tape_m = length_m if short else units.parse_length_m(lengths.sixteenths(length_m))
    assert tape_m == pytest.approx(length_m, abs=0.0254 / 32 + 1e-9)


def test_written_lengths_and_temperatures() -> None:
    assert lengths.both(0.7024) == "702.4 mm (27 21/32 in)"
    assert lengths.sixteenths(0.0254) == "1 in"
    assert lengths.sixteenths(-0.0127) == "-1/2 in"
    assert quantities.temperature_both(413.15) == "140 °C (284 °F)"


@pytest.mark.parametrize("text", ["-60 degC", "1200 degC", "-76 degF", "2192 degF"])
def test_the_limit_that_is_told_is_allowed(text: str) -> None:
    assert 213.0 < units.parse_temperature_range_k(text).low < 1474.0
