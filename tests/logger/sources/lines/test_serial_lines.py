"""A board that prints lines: unplugged, garbled, cut, silent, at another baud rate."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.sources.lines.serial_lines import SerialLines, parse_line
from tests.logger.sources.drives_with import Drive
from tests.logger.sources.talkers import Pty, needs_pty


@pytest.fixture
def board() -> Iterator[Pty]:
    with Pty() as board:
        yield board


@pytest.fixture
def drive(board: Pty) -> Iterator[Drive]:
    source = SerialLines(board.path, hold_s=0.05)
    drive = Drive(source, timeout_s=0.02)
    drive.read()  # opens
    board.write(b"0\n")  # the first line may have begun before
    yield drive
    source.close()


@needs_pty
def test_every_whole_line_is_a_reading(drive: Drive, board: Pty) -> None:
    for line in (b"2150\n", b"# warming up\n", b"\n", b"road_speed_m_s = 27.5\r\n", b"2160.5\n"):
        board.write(line)
    drive.until(lambda: len(drive.readings) == 3)
    assert {(one.quantity, one.value) for one in drive.readings} == {
        ("rpm", 2150.0),
        ("road_speed_m_s", 27.5),
        ("rpm", 2160.5),
    }
    assert drive.rpm == [2150.0, 2160.5]
    assert all(one.request_s == one.reply_s for one in drive.readings)


@needs_pty
def test_the_first_line_is_left_out_because_it_may_be_half_of_one(board: Pty) -> None:
    source = SerialLines(board.path)
    drive = Drive(source, timeout_s=0.02)
    drive.read()
    board.write(b"150\n2150\n")  # of 2150 we came in time for 150 only
    drive.until(lambda: len(drive.readings) == 1)
    drive.read(3)
    assert drive.rpm == [2150.0]
    source.close()


@needs_pty
def test_half_lines_wait_for_their_other_half(drive: Drive, board: Pty) -> None:
    board.write(b"21")
    drive.read(3)
    assert not drive.readings
    board.write(b"50\n")
    drive.until(lambda: len(drive.readings) == 1)
    assert drive.rpm == [2150.0]


@needs_pty
def test_unplugged_and_replugged(drive: Drive, board: Pty) -> None:
    board.write(b"2000\n")
    drive.until_rpm(1)
    board.unplug()
    drive.read(40)
    assert [one.code for one in drive.troubles] == ["telemetry_lost"]
    assert "plug it in again" in drive.troubles[0].message
    board.replug()

    def prints_and_is_heard() -> bool:
        board.write(b"2100\n")
        return len(drive.rpm) == 3

    drive.until(prints_and_is_heard)
    assert drive.rpm == [2000.0, 2100.0, 2100.0]
    assert len(drive.troubles) == 1


@needs_pty
@pytest.mark.parametrize(
    "garbage",
    [b"\xfe\x80\xf8\n", b"rpm 2000\n", b"99999\n", b"boost=3\n", b"\x80" * 100, b"2000,2100\n"],
)
def test_garbage_is_told_once_and_never_given(drive: Drive, board: Pty, garbage: bytes) -> None:
    for _ in range(12):
        board.write(garbage)
        drive.read(2)
    assert not drive.readings
    assert [one.code for one in drive.troubles] == ["telemetry_garbled"]
    assert "check the baud rate and the wires" in drive.troubles[0].message
    board.write(b"\n2000\n2001\n")
    drive.until_rpm(1)


@needs_pty
def test_a_damaged_line_now_and_then_is_no_trouble(drive: Drive, board: Pty) -> None:
    for number in range(30):
        board.write(b"20\xf000\n" if number % 3 == 0 else b"2000\n")
        drive.read(2)
    drive.until(lambda: len(drive.rpm) == 20)
    assert set(drive.rpm) == {2000.0}
    assert not drive.troubles


@needs_pty
def test_silence_is_told_once_for_each_time(board: Pty) -> None:
    source = SerialLines(board.path, silent_s=0.15, hold_s=0.05)
    drive = Drive(source, timeout_s=0.02)
    drive.read()  # opens
    for times_told in (1, 2):
        board.write(b"2000\n2000\n")
        drive.until_rpm(1)
        drive.until_trouble()
        drive.read(10)
        assert [one.code for one in drive.troubles] == ["telemetry_silent"] * times_told
    source.close()


@given(st.binary(max_size=30))
def test_any_line_is_a_plain_number_or_nothing(line: bytes) -> None:
    parsed = parse_line(line)
    if parsed is not None:
        text = line.decode("ascii").rpartition("=")[2].strip()
        assert float(text) == parsed[1]
        assert not set(text) - set("+-.0123456789")
