"""A receiver that prints NMEA 0183: valid fixes only, any baud rate, unplugged, without a sky."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.sources.lines.gps import BAUDS, GpsSource
from logger.sources.lines.nmea import parse_sentence
from tests.logger.sources.drives_with import Drive
from tests.logger.sources.talkers import Pty, needs_pty

# The sentences of the public "NMEA data" page of D. DePriest, quoted by many receivers' manuals.
RMC = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"
VTG = b"$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48"
GGA = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
KNOT_M_S = 0.514444  # BIPM, The International System of Units, 8th edition, table 8


def sentence(body: str) -> bytes:
    """Add the checksum: exclusive or of all between ``$`` and ``*``, as NMEA 0183 says."""
    checksum = reduce(lambda left, right: left ^ right, body.encode("ascii"))
    return f"${body}*{checksum:02X}".encode("ascii")


def rmc(knots: str, *, status: str = "A", end: str = ",A") -> bytes:
    return sentence(f"GNRMC,101500.20,{status},4807.03,N,01131.00,E,{knots},84.4,230326,,{end}")


# --- one sentence -------------------------------------------------------------------------------


def test_the_checksum_of_these_tests_is_that_of_the_published_sentences() -> None:
    assert sentence(RMC[1:-3].decode("ascii")) == RMC
    assert sentence(GGA[1:-3].decode("ascii")) == GGA


def test_published_sentences() -> None:
    parsed = [parse_sentence(text) for text in (RMC, VTG, GGA)]
    assert all(parsed)
    assert [one.kind for one in parsed if one] == ["RMC", "VTG", "GGA"]
    assert [one.has_fix for one in parsed if one] == [True, None, True]
    speeds = [one.speed_m_s for one in parsed if one]
    assert speeds[0] == pytest.approx(22.4 * KNOT_M_S, rel=1e-5)
    assert speeds[1] == pytest.approx(10.2 / 3.6, rel=0.002)  # its own second unit, rounded
    assert speeds[2] is None


@pytest.mark.parametrize(
    ("text", "has_fix"),
    [
        (rmc("20.0"), True),
        (rmc("20.0", end=",D"), True),
        (rmc("20.0", end=""), True),  # before version 2.3
        (rmc("20.0", end=",A,V"), True),  # version 4.1: no statement on safety, yet a fix
        (rmc("20.0", end=",R,C"), True),
        (rmc("20.0", status="V"), False),
        (rmc("20.0", end=",N"), False),
        (rmc("20.0", end=",E"), False),  # dead reckoning
        (rmc("20.0", end=",S"), False),  # simulator
        (sentence("GPRMC,,V,,,,,,,,,,N"), False),
        (sentence("GPVTG,,T,,M,20.0,N,37.0,K,A"), True),
        (sentence("GPVTG,,,,,,,,,N"), False),
    ],
)
def test_a_fix_is_what_the_standard_calls_one(text: bytes, has_fix: bool) -> None:
    parsed = parse_sentence(text)
    assert parsed is not None
    assert parsed.has_fix is has_fix


@pytest.mark.parametrize(
    "text",
    [
        RMC[:-3],  # no checksum
        RMC[:-1],
        RMC[:-2] + b"6B",
        RMC.replace(b"022.4", b"122.4"),
        RMC[:40] + VTG,  # two run into one
        RMC.replace(b",A,", b"\x80A,"),
        b"",
        b"$",
        b"2150",
    ],
)
def test_what_is_not_whole_is_nothing(text: bytes) -> None:
    assert parse_sentence(text) is None


def test_a_makers_own_sentence_that_looks_like_rmc_is_none() -> None:
    parsed = parse_sentence(sentence("PGRMC,A,218.8,100,6378137,298.257,0,0,0,A,4,1"))
    assert parsed is not None
    assert (parsed.kind, parsed.has_fix, parsed.speed_m_s) == ("PGRMC", None, None)


@given(st.binary(max_size=90))
def test_any_bytes_are_refused_or_whole(text: bytes) -> None:
    parsed = parse_sentence(text)
    assert parsed is None or sentence(text[1:-3].decode("ascii")).upper() == text.upper()


@given(st.lists(st.sampled_from(["A", "V", "N", "", "1", "-5", "nan", "1e400", "x"]), max_size=15))
def test_odd_fields_behind_a_right_checksum_give_a_finite_speed_or_none(fields: list[str]) -> None:
    for kind in ("GPRMC", "GPVTG", "GPGGA"):
        parsed = parse_sentence(sentence(",".join([kind, *fields])))
        if parsed is not None and parsed.speed_m_s is not None:
            assert math.isfinite(parsed.speed_m_s)


# --- the receiver -------------------------------------------------------------------------------


class Receiver(Pty):
    """Prints at its own baud rate; who listens at another one gets garbage.

    A pseudo-terminal carries bytes at any rate, so the rate is looked up in its settings.
    """

    def __init__(self, baud: int = 9600) -> None:
        super().__init__()
        self.baud = baud

    def print(self, *lines: bytes) -> None:
        import termios  # not on Windows

        printed = b"".join(line + b"\r\n" for line in lines)
        port = os.open(self.path, os.O_RDWR | os.O_NOCTTY)
        set_to = termios.tcgetattr(port)[5]
        os.close(port)
        if set_to != getattr(termios, f"B{self.baud}"):
            printed = bytes(0x80 | byte >> 1 for byte in printed)
        self.write(printed)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with Receiver() as receiver:
        yield receiver


def driving(receiver: Receiver, word: str = "@9600") -> Iterator[Drive]:
    source = GpsSource(receiver.path + word, try_s=0.05, no_fix_s=0.1)
    drive = Drive(source, timeout_s=0.02)
    drive.read()  # opens
    receiver.print(GGA)  # the first line may have begun before
    yield drive
    source.close()


@pytest.fixture
def drive(receiver: Receiver) -> Iterator[Drive]:
    yield from driving(receiver)


def speeds(drive: Drive) -> list[float]:
    assert {one.quantity for one in drive.readings} <= {"road_speed_m_s"}
    return [round(one.value / KNOT_M_S, 2) for one in drive.readings]


@needs_pty
def test_ten_fixes_a_second_with_all_that_receivers_print(drive: Drive, receiver: Receiver) -> None:
    for tenth in range(10):
        knots = f"{20.0 + 0.1 * tenth:.1f}"
        vtg = sentence(f"GNVTG,84.4,T,,M,{knots},N,37.0,K,A")
        receiver.print(rmc(knots), vtg, GGA, sentence("GPGSV,1,1,01,02,45,100,40"))
        drive.read(2)
    drive.until(lambda: len(drive.readings) >= 10)
    drive.read(5)
    assert speeds(drive) == [round(20.0 + 0.1 * tenth, 2) for tenth in range(10)]
    assert not drive.troubles
    assert all(one.request_s == one.reply_s for one in drive.readings)


@needs_pty
def test_an_old_receiver_that_prints_vtg_only_is_believed_with_its_gga(
    drive: Drive, receiver: Receiver
) -> None:
    receiver.print(VTG)
    drive.read(3)
    receiver.print(GGA, VTG)
    drive.until(lambda: bool(drive.readings))
    assert speeds(drive) == [5.5]


@needs_pty
def test_no_fix_is_told_once_and_gives_no_speed(drive: Drive, receiver: Receiver) -> None:
    for _ in range(20):
        receiver.print(rmc("20.0", status="V"))
        drive.read(2)
    assert not drive.readings
    assert [one.code for one in drive.troubles] == ["telemetry_no_fix"]
    assert "clear view of the sky" in drive.troubles[0].message
    receiver.print(rmc("21.0"))
    drive.until(lambda: speeds(drive) == [21.0])


@needs_pty
def test_a_receiver_that_tells_no_speed_is_told(drive: Drive, receiver: Receiver) -> None:
    for _ in range(20):
        receiver.print(GGA)
        drive.read(2)
    assert [one.code for one in drive.troubles] == ["telemetry_no_fix"]
    assert "RMC or VTG" in drive.troubles[0].message


@needs_pty
@pytest.mark.parametrize("baud", BAUDS)
def test_the_baud_rate_is_found(baud: int) -> None:
    with Receiver(baud) as receiver:
        for drive in driving(receiver, ""):

            def prints_and_is_heard(receiver: Receiver = receiver, drive: Drive = drive) -> bool:
                receiver.print(rmc("20.0"))
                return len(drive.readings) >= 3

            drive.until(prints_and_is_heard)
            assert set(speeds(drive)) == {20.0}
            assert not drive.troubles
            assert isinstance(drive.source, GpsSource)
            assert drive.source.description == f"NMEA 0183 at {baud} baud"


@needs_pty
def test_a_wrong_baud_rate_is_told(receiver: Receiver) -> None:
    for drive in driving(receiver, "@115200"):
        while not drive.troubles:
            receiver.print(rmc("20.0"))
            drive.read()
        assert [one.code for one in drive.troubles] == ["telemetry_garbled"]
        assert "baud rate" in drive.troubles[0].message
        assert not drive.readings


@needs_pty
def test_a_damaged_sentence_now_and_then_is_no_trouble(drive: Drive, receiver: Receiver) -> None:
    for number in range(30):
        receiver.print(RMC.replace(b"4", b"5", 1) if number % 3 == 0 else rmc("20.0"))
        drive.read(2)
    drive.until(lambda: len(drive.readings) == 20)
    assert not drive.troubles


@needs_pty
def test_unplugged_and_replugged(drive: Drive, receiver: Receiver) -> None:
    receiver.print(rmc("20.0"))
    drive.until(lambda: len(drive.readings) == 1)
    receiver.unplug()
    drive.read(40)
    assert [one.code for one in drive.troubles] == ["telemetry_lost"]
    receiver.replug()

    def prints_and_is_heard() -> bool:
        receiver.print(rmc("21.0"))
        return len(drive.readings) == 3

    drive.until(prints_and_is_heard)
    assert speeds(drive) == [20.0, 21.0, 21.0]
    assert len(drive.troubles) == 1
