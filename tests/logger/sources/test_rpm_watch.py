"""What no engine can do is left out; what it can do is never."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.sources.lines.serial_lines import parse_line
from logger.sources.retry import Backoff
from logger.sources.rpm_watch import RpmWatch


def test_a_spike_is_left_out_and_the_rest_kept() -> None:
    watch = RpmWatch()
    values = [2000.0, 2010.0, 9000.0, 2020.0, 2030.0]
    kept = [rpm for number, rpm in enumerate(values) if watch.believes(rpm, 0.1 * number)]
    assert kept == [2000.0, 2010.0, 2020.0, 2030.0]


def test_a_real_step_is_believed_at_the_second_reading() -> None:
    watch = RpmWatch()
    values = [2000.0, 9000.0, 9010.0, 9020.0]
    assert [watch.believes(rpm, 0.1 * i) for i, rpm in enumerate(values)] == [
        True,
        False,
        True,
        True,
    ]


STEADY_RPM = 2150.0


@pytest.mark.parametrize("pause_s", [0.1, 0.25, 0.33, 1.0, 5.0])
@pytest.mark.parametrize("damaged", [215.0, 150.0, 50.0, 6150.0])
def test_a_damaged_line_is_left_out_however_slow_the_board(pause_s: float, damaged: float) -> None:
    """2150 with its end or its beginning cut off, or with a bit turned over: 2 becomes 6."""
    watch = RpmWatch()
    values = [STEADY_RPM, STEADY_RPM, damaged, STEADY_RPM, STEADY_RPM]
    kept = [rpm for number, rpm in enumerate(values) if watch.believes(rpm, pause_s * number)]
    assert kept == [STEADY_RPM] * 4


@given(st.floats(-5000.0, 5000.0), st.integers(2, 50), st.floats(0.02, 0.2))
def test_steady_climbs_of_any_engine_lose_nothing(slope: float, count: int, step_s: float) -> None:
    """5,000 rpm/s is an engine revved free; common practice, no source."""
    watch = RpmWatch()
    assert all(watch.believes(5000.0 + slope * step_s * i, step_s * i) for i in range(count))


@given(st.floats(-5000.0, 5000.0), st.integers(2, 50), st.floats(0.2, 1.0))
def test_of_a_climb_in_great_steps_every_other_reading_is_left(
    slope: float, count: int, step_s: float
) -> None:
    watch = RpmWatch()
    kept = [watch.believes(5000.0 + slope * step_s * i, step_s * i) for i in range(count)]
    assert all(one or other for one, other in pairwise(kept))


@given(st.floats(0.0, 16_000.0))
def test_a_printed_number_is_read_back(rpm: float) -> None:
    parsed = parse_line(f"{rpm:.3f}".encode())
    assert parsed is not None
    assert parsed[0] == "rpm"
    assert parsed[1] == pytest.approx(rpm, abs=6e-4)


@pytest.mark.parametrize("line", [b"nan", b"inf", b"2,150", b"12 34", b"boost=3", b"=5", b"\xff5"])
def test_what_is_no_reading_is_none(line: bytes) -> None:
    assert parse_line(line) is None


def test_waits_grow_to_five_seconds_and_trouble_is_told_once() -> None:
    now_s = [0.0]
    slept: list[float] = []

    def sleep(seconds: float) -> None:
        slept.append(seconds)
        now_s[0] += seconds

    backoff = Backoff(clock=lambda: now_s[0], sleep=sleep)
    told = []
    for _ in range(6):
        assert backoff.wait(10.0)
        told.append(backoff.fail())
    assert slept == [0.5, 1.0, 2.0, 4.0, 5.0]
    assert told == [True, False, False, False, False, False]
    backoff.reset()
    assert backoff.fail()
