"""The gas temperature found, written into a car file, and sized with."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from analysis.acoustics.gas import COLDEST_K, HOTTEST_K
from analysis.answers.documents import comparison_document
from analysis.basics.interval import Interval
from analysis.basics.units import parse_temperature_range_k
from analysis.compare.trim.gas_found import car_file_lines, car_file_value, gas_found
from analysis.errors import CarError
from analysis.exhaust.car import parse_car, read_car
from analysis.exhaust.car_edit import KEY, with_branch_gas
from analysis.size.branch_gas import branch_gas_anywhere
from analysis.size.from_findings import request_for_bands, request_for_frequency
from analysis.verdicts import Verdict
from analysis.words.shown import Units, showing
from logger.command.tables.compare import compare_text
from tests.analysis.report.compared_examples import TRIM, comparison
from tests.analysis.report.found_examples import band, findings

CAR_FILE = Path(__file__).parents[4] / "recorded_sessions" / "car.toml"
VALUE = "144..186 degC"  # 165 degC, 95 %: 158.85 to 171.35; and 20 K for the next day and branch


def found() -> Interval:
    gas_k = gas_found(comparison())
    assert gas_k is not None
    return gas_k


def test_the_range_holds_what_was_measured_and_another_day() -> None:
    gas_k, ends = found(), TRIM.gas_temperature_ci95_k
    assert gas_k.low < TRIM.gas_temperature_k - 20.0 < ends.low
    assert ends.high < TRIM.gas_temperature_k + 20.0 < gas_k.high
    assert car_file_value(gas_k) == VALUE


def test_two_branches_give_one_range_that_spans_both() -> None:
    hot = replace(
        TRIM,
        branch=2,
        gas_temperature_k=500.0,
        gas_temperature_ci95_k=Interval(low=495.0, high=505.0),
    )
    both = gas_found(replace(comparison(), trims=(TRIM, hot)))
    assert both is not None
    assert both.low == found().low
    assert both.high == pytest.approx(500.0 + (5.0**2 + 20.0**2) ** 0.5)


def test_drives_that_tell_nothing_offer_nothing() -> None:
    assert gas_found(replace(comparison(), trims=())) is None
    assert gas_found(comparison(Verdict.CANNOT_TELL)) is None
    assert comparison_document(replace(comparison(), trims=()))["car_file"] is None


def test_the_range_stays_within_what_a_car_file_may_say() -> None:
    """What ``size`` refuses must not be written for it."""
    for gas_k in (COLDEST_K + 1.0, HOTTEST_K - 1.0):
        ends = Interval(low=gas_k - 0.5, high=gas_k + 0.5)
        trim = replace(TRIM, gas_temperature_k=gas_k, gas_temperature_ci95_k=ends)
        span = gas_found(replace(comparison(), trims=(trim,)))
        assert span is not None
        car = parse_car(tomllib.loads(f"[engine]\ncylinders = 4\n{car_file_lines(span)}"))
        assert car.branch_gas_k is not None
        branch_gas_anywhere(car.branch_gas_k, None, 2 * (Interval(low=HOTTEST_K, high=HOTTEST_K),))


def test_who_reads_fahrenheit_gets_a_line_in_fahrenheit_for_the_same_gas() -> None:
    """32 degF is 0 degC, 9 degF are 5 K; and a limit of the car file is not rounded past."""
    with showing(Units.INCH):
        value = car_file_value(Interval(low=373.15, high=473.15))
        widest = parse_temperature_range_k(car_file_value(Interval(low=COLDEST_K, high=HOTTEST_K)))
    assert value == "212..392 degF"
    assert COLDEST_K <= widest.low < COLDEST_K + 1.0
    assert HOTTEST_K - 1.0 < widest.high <= HOTTEST_K


def test_json_and_text_give_the_lines_to_put_into_the_car_file() -> None:
    lines = f'[exhaust]\n{KEY} = "{VALUE}"'
    assert comparison_document(comparison())["car_file"] == {KEY: VALUE, "toml": lines}
    console = Console(file=io.StringIO(), width=200)
    with console.capture() as shown:
        console.print(compare_text(comparison()))
    told = [line.strip() for line in shown.get().splitlines()]
    assert told.index("[exhaust]") + 1 == told.index(f'{KEY} = "{VALUE}"')


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_car_file_gets_the_value_and_keeps_everything_else(line_end: str) -> None:
    text = CAR_FILE.read_text(encoding="utf-8").replace("\n", line_end)
    once = with_branch_gas(text, VALUE)
    assert once.replace(f'{KEY} = "{VALUE}"{line_end}', "") == text
    assert parse_car(tomllib.loads(once)).branch_gas_k == Interval(low=417.15, high=459.15)
    assert with_branch_gas(once, "90..130 degC") == once.replace(VALUE, "90..130 degC")
    assert with_branch_gas(once, VALUE) == once


def test_a_comment_behind_the_old_value_stays() -> None:
    text = f"[engine]\ncylinders = 4\n\n[exhaust]  # mine\n  {KEY} = '80 degC'  # May\n[room]\n"
    assert with_branch_gas(text, VALUE) == text.replace("'80 degC'", f'"{VALUE}"')


@pytest.mark.parametrize(
    "text",
    [
        "[engine]\ncylinders = 4\n",
        "[engine]\ncylinders = 4",
        '[[exhaust.section]]\nkind = "pipe"\nlength = "1 m"\ninner_diameter = "50 mm"\n',
        f'[room]\n{KEY} = "a trap under another header"\n[ exhaust ]\n',
        "[exhaust]",
    ],
)
def test_a_car_file_without_the_key_gets_it(text: str) -> None:
    edited = with_branch_gas(text, VALUE)
    assert edited.startswith(text.rstrip("\n"))
    read = tomllib.loads(edited)
    before = tomllib.loads(text)
    assert read == {**before, "exhaust": {**before.get("exhaust", {}), KEY: VALUE}}


@pytest.mark.parametrize(
    "text",
    [
        'exhaust = { inlet_gas_temperature = "450 degC" }\n',
        f'[exhaust]\n{KEY} = """80 degC"""\n',
        'x = """\n[exhaust]\n"""\n',
        "not toml",
        "exhaust = 4\n",
    ],
)
def test_a_car_file_written_in_another_way_is_left_to_its_owner(text: str) -> None:
    with pytest.raises(CarError, match=f'put {KEY} = "{VALUE}" under its .exhaust. by hand'):
        with_branch_gas(text, VALUE)


def test_the_next_size_takes_it_from_there_and_says_so(tmp_path: Path) -> None:
    new = tmp_path / "new.toml"
    text = with_branch_gas(CAR_FILE.read_text(encoding="utf-8"), car_file_value(found()))
    new.write_text(text, encoding="utf-8")
    before, after = (
        request_for_bands(findings(band()), [band()], read_car(path)) for path in (CAR_FILE, new)
    )
    assert before.branch_gas_k is None
    assert after.branch_gas_k == Interval(low=417.15, high=459.15)
    whole_k = Interval(low=473.15, high=723.15)
    wide, narrow = (
        branch_gas_anywhere(r.branch_gas_k, None, (whole_k, whole_k), r.branch_gas_said_by)
        for r in (before, after)
    )
    assert narrow.branch_k.high - narrow.branch_k.low < 0.3 * (
        wide.branch_k.high - wide.branch_k.low
    )
    assert narrow.assumptions[0] == (
        "Gas in the branch: 144 °C (291 °F) to 186 °C (367 °F), as the car file says."
    )


def test_what_was_said_otherwise_is_not_called_the_car_file_s() -> None:
    request = request_for_frequency(frequency_hz=112.0, engine_order=3.0, car=None)
    assert request.branch_gas_said_by == "as given"
