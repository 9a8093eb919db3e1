"""The source of rpm through the real python-OBD: rate, times, finding the adapter, its manners."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Protocol

import pytest
from serial.tools.list_ports_common import ListPortInfo

from logger.sources.contract import Reading, SourceError
from logger.sources.obd.ports import has_no_rate, likely_ports
from logger.sources.obd.source import ObdSource
from tests.logger.sources.drives_with import Drive, FakeClock, hurry
from tests.logger.sources.obd.elm import Elm, car
from tests.logger.sources.talkers import PtyAdapter, TcpAdapter, needs_pty

Adapter = PtyAdapter | TcpAdapter
QUICK_RPM, PLAIN_RPM = b"010C1", b"010C"


@pytest.fixture(autouse=True)
def _hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    hurry(monkeypatch)
    monkeypatch.setattr("logger.sources.obd.ports._TRY_S", 0.05)


def address(adapter: Adapter | None) -> str:
    assert adapter is not None
    return adapter.path if isinstance(adapter, PtyAdapter) else adapter.url


class Driver(Protocol):
    def __call__(
        self,
        adapter: Adapter | None = None,
        *,
        rest: str = "",
        patience_s: float = 0.0,
        reply_limit_s: float = 0.4,
    ) -> Drive: ...


@pytest.fixture
def drive_with() -> Iterator[Driver]:
    with ExitStack() as stack:

        def drive(
            adapter: Adapter | None = None,
            *,
            rest: str = "",
            patience_s: float = 0.0,
            reply_limit_s: float = 0.4,
        ) -> Drive:
            clock = FakeClock(adapter)
            source = ObdSource(
                rest or address(adapter),
                reply_limit_s=reply_limit_s,
                search_limit_s=1.0,
                patience_s=patience_s,
                clock=clock.read,
                sleep=clock.sleep,
            )
            stack.callback(source.close)
            return Drive(source)

        yield drive


# --- rate and time ------------------------------------------------------------------------------


def test_three_of_four_questions_are_for_rpm_and_every_answer_is_given(drive_with: Driver) -> None:
    with TcpAdapter() as adapter:
        drive = drive_with(adapter)
        drive.until_rpm(5)
        adapter.elm.log.clear()
        drive.readings.clear()
        drive.read(240)
        asked = [one.command[:4] for one in adapter.elm.log]
    assert len(asked) == len(drive.readings) == 240  # one question a read, one value an answer
    assert asked.count(b"010C") == len(drive.rpm) == 180
    beside = {one.quantity: one.value for one in drive.readings if one.quantity != "rpm"}
    assert beside == {  # by the formulas of SAE J1979
        "road_speed_m_s": pytest.approx(20.0),
        "load_percent": pytest.approx(100.0 * 0x80 / 255),
        "throttle_percent": pytest.approx(20.0),
        "manifold_pressure_kpa": 101.0,
        "coolant_temperature_degc": 83.0,
        "catalyst_temperature_degc": pytest.approx(360.0),
    }


@needs_pty
def test_times_enclose_the_moment_of_measurement(drive_with: Driver) -> None:
    def up_and_down(now_s: float) -> float:  # without a jump, which no source would believe
        return 1000.0 + 100.0 * abs(now_s % 20.0 - 10.0)

    with PtyAdapter(rpm_at=up_and_down, latency_s=0.004) as it:
        drive = drive_with(it)
        drive.until_rpm(30)
        sent = [one for one in it.log if one.rpm is not None]
    got = [one for one in drive.readings if one.quantity == "rpm"]
    assert len(got) == 30
    for reading, one in zip(got, sent[1:], strict=True):
        assert reading.value == one.rpm
        assert reading.request_s <= one.asked_s <= one.answered_s <= reading.reply_s


@needs_pty
def test_a_late_answer_is_dropped_and_the_next_one_is_kept(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        drive = drive_with(adapter, reply_limit_s=2.0, patience_s=60.0)
        drive.until_rpm(12)
        adapter.elm.latency_s = 0.35
        drive.read(2)
        assert len(drive.rpm) == 12
        adapter.elm.latency_s = 0.0
        drive.read(1)
        assert len(drive.rpm) == 13
        assert not drive.troubles


@needs_pty
def test_answers_that_stay_late_are_told_and_never_given(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        drive = drive_with(adapter, reply_limit_s=3.0)
        drive.until_rpm(12)
        adapter.elm.latency_s = 0.35
        trouble = drive.until_trouble()
        assert trouble.code == "telemetry_late"
        assert "another adapter" in trouble.message
        assert len(drive.rpm) == 12


# --- from the start -----------------------------------------------------------------------------


def test_an_adapter_that_is_silent_from_the_start_is_told_once(drive_with: Driver) -> None:
    elm = Elm()
    elm.is_deaf = True
    with TcpAdapter(elm) as adapter:
        drive = drive_with(adapter)
        drive.read(3)
        assert [one.code for one in drive.troubles] == ["telemetry_lost"]
        assert "does not answer" in drive.troubles[0].message
        assert not drive.readings
        elm.is_deaf = False
        drive.until_rpm()


@needs_pty
def test_ignition_off_at_the_start_and_then_on(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        adapter.elm.answer = lambda question: b"SEARCHING...\rUNABLE TO CONNECT"
        drive = drive_with(adapter)
        drive.read(30)
        assert [one.code for one in drive.troubles] == ["telemetry_no_rpm"]
        assert "switch the ignition on" in drive.troubles[0].message
        adapter.elm.answer = car
        drive.until_rpm()
        assert set(drive.rpm) == {2000.0}


def test_a_port_that_is_not_there_is_told_with_its_name(drive_with: Driver) -> None:
    drive = drive_with(rest="/dev/no-such-port")
    drive.read(20)
    assert [one.code for one in drive.troubles] == ["telemetry_lost"]
    assert "cannot open /dev/no-such-port" in drive.troubles[0].message


@needs_pty
def test_words_in_place_of_the_voltage_do_no_harm(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        adapter.elm.settings[b"ATRV"] = b"LOW BATTERY"
        drive = drive_with(adapter)
        drive.until_rpm()
        assert not drive.troubles


def test_without_the_library_it_says_so(
    drive_with: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "obd", None)
    drive = drive_with(rest="socket://127.0.0.1:1")
    drive.read(20)
    assert [one.code for one in drive.troubles] == ["telemetry_lost"]
    assert "needs the library python-OBD" in drive.troubles[0].message


def test_the_library_is_imported_only_when_it_is_needed() -> None:
    program = (
        "import sys, logger.sources.choice as choice\n"
        "choice.choose_source('obd:auto', installed=[]).close()\n"
        "print('obd' in sys.modules)"
    )
    result = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert result.stdout.split() == ["False"]


# --- the next time it is quick ------------------------------------------------------------------


@needs_pty
def test_rate_and_protocol_are_remembered(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        drive = drive_with(adapter)
        drive.until_rpm()
        assert adapter.elm.commands[0] == b"\x7f\x7f"  # looks for the rate
        assert b"ATSP0" in adapter.elm.commands  # lets the adapter search
        adapter.elm.answer = lambda question: b"NO DATA"
        drive.until_trouble()
        adapter.elm.commands.clear()
        adapter.elm.answer = car
        drive.until_rpm()
    again = [command for command in adapter.elm.commands if command != b"ATZ"]
    assert again[:5] == [b"ATE0", b"ATH1", b"ATL0", b"ATTP6", b"0100"]


# --- obd:auto -----------------------------------------------------------------------------------


def port(
    device: str, *, vid: int | None = None, hwid: str = "n/a", words: str = ""
) -> ListPortInfo:
    made = ListPortInfo(device)
    made.vid, made.hwid, made.description = vid, hwid, words or "n/a"
    return made


LINUX = [
    port("/dev/ttyS0"),
    port("/dev/rfcomm0"),
    port("/dev/ttyUSB1", vid=0x1546, words="u-blox 7 - GPS/GNSS Receiver"),
    port("/dev/ttyUSB0", vid=0x1A86),
]
WINDOWS = [  # forms of hwid as users reported them to pyserial
    port("COM1", hwid="ACPI\\PNP0501\\1"),
    port("COM3", hwid="BTHENUM\\{00001101-0000}_LOCALMFG&0000\\7&27F4&0&000000000000_00000000"),
    port("COM4", hwid="BTHENUM\\{00001101-0000}_VID&000100E0\\7&27F4&0&54BAD6E72FC9_C0000000"),
    port("COM5", vid=0x0403, hwid="USB VID:PID=0403:6001"),
]
MACOS = [
    port("/dev/cu.Bluetooth-Incoming-Port"),
    port("/dev/cu.debug-console"),
    port("/dev/cu.OBD-SPPDev"),
    port("/dev/cu.usbserial-1410", vid=0x0403),
]


@pytest.mark.parametrize(
    ("platform", "ports", "chosen"),
    [
        ("linux", LINUX, ["/dev/ttyUSB0", "/dev/rfcomm0"]),
        ("win32", WINDOWS, ["COM5", "COM4"]),
        ("darwin", MACOS, ["/dev/cu.usbserial-1410", "/dev/cu.OBD-SPPDev"]),
    ],
)
def test_auto_keeps_to_ports_that_can_be_an_adapter(
    platform: str, ports: list[ListPortInfo], chosen: list[str]
) -> None:
    assert likely_ports(ports, platform) == chosen


@pytest.mark.parametrize("name", ["socket://192.168.0.10:35000", "/dev/rfcomm0"])
def test_no_rate_is_tried_on_sockets_and_bluetooth(name: str) -> None:
    assert has_no_rate(name)


@needs_pty
def test_auto_finds_the_adapter_and_leaves_others_alone(
    drive_with: Driver, monkeypatch: pytest.MonkeyPatch
) -> None:
    with PtyAdapter() as other, PtyAdapter() as adapter:
        other.elm.is_deaf = True
        ports = [port(other.path, vid=1), port(adapter.path, vid=2)]
        monkeypatch.setattr("serial.tools.list_ports.comports", lambda: ports)
        drive = drive_with(adapter, rest="auto")
        drive.until_rpm()
        assert not drive.troubles
        assert set(other.elm.commands) == {b"\x7f\x7f"}  # a nonsense line, no command
        other.elm.commands.clear()
        adapter.elm.answer = lambda question: b"NO DATA"
        drive.until_trouble()
        adapter.elm.answer = car
        drive.until_rpm()
        assert not other.elm.commands  # the port that worked is tried first


@pytest.mark.parametrize("ports", [[], LINUX[:1]])
def test_auto_without_a_likely_port_says_so_once(
    drive_with: Driver, ports: list[ListPortInfo], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: ports)
    drive = drive_with(rest="auto")
    drive.read(50)
    assert [one.message for one in drive.troubles] == [
        "obd:auto finds no USB or Bluetooth serial port; plug the adapter in"
    ]


# --- short questions ----------------------------------------------------------------------------


def test_short_questions_are_used_when_they_work(drive_with: Driver) -> None:
    with TcpAdapter() as adapter:
        drive = drive_with(adapter)
        drive.until_rpm(20)
    asked = [one.command for one in adapter.elm.log if one.command.startswith(PLAIN_RPM)]
    assert asked[:3] == [PLAIN_RPM, PLAIN_RPM, QUICK_RPM]  # the first bare frame is not believed
    assert set(asked[2:]) == {QUICK_RPM}


@needs_pty
@pytest.mark.parametrize("reply", [None, b"?", b"NO DATA"], ids=["silent", "?", "no data"])
def test_an_adapter_that_does_not_stand_short_questions_gets_plain_ones(
    drive_with: Driver, reply: bytes | None
) -> None:
    with PtyAdapter() as adapter:
        adapter.elm.answer = lambda question: car(question) if len(question) == 4 else reply
        drive = drive_with(adapter, patience_s=30.0)
        drive.until_rpm(30)
        asked = [one.command for one in adapter.log if one.command.startswith(PLAIN_RPM)]
    assert asked.count(QUICK_RPM) <= 3
    assert set(asked[-25:]) == {PLAIN_RPM}
    assert len(drive.troubles) <= 1


def test_a_quantity_that_the_car_lists_but_never_gives_is_asked_three_times(
    drive_with: Driver,
) -> None:
    elm = Elm(lambda question: b"NO DATA" if question.startswith(b"010D") else car(question))
    with TcpAdapter(elm) as adapter:
        drive = drive_with(adapter)
        drive.until_rpm(200)
    assert sum(one.command.startswith(b"010D") for one in elm.log) == 3
    assert not drive.troubles


# --- close --------------------------------------------------------------------------------------


@needs_pty
def test_close_after_the_plug_was_pulled(drive_with: Driver) -> None:
    with PtyAdapter() as adapter:
        drive = drive_with(adapter)
        drive.until_rpm()
        adapter.unplug()
        drive.source.close()
        assert drive.source.read(0.0) is None


def test_a_reading_is_stamped_on_the_monotonic_clock(drive_with: Driver) -> None:
    with TcpAdapter() as adapter:
        drive = drive_with(adapter)
        before_s = time.perf_counter()
        drive.until_rpm(1)
        after_s = time.perf_counter()
    first = drive.readings[0]
    assert isinstance(first, Reading)
    assert before_s <= first.request_s < first.reply_s <= after_s


class _Curt(PtyAdapter):
    """Answers only what it understands, as some adapters do: so nobody can ask for its rate."""

    def take(self, data: bytes) -> None:
        if b"\x7f" not in data:
            super().take(data)


@needs_pty
def test_a_baud_rate_that_is_told_is_not_asked_for(drive_with: Driver) -> None:
    with _Curt() as adapter:
        asking = drive_with(adapter)
        asking.until_trouble()
        assert "does not answer" in asking.troubles[0].message
        told = drive_with(adapter, rest=f"{adapter.path}@38400")
        told.until_rpm(3)
        assert not told.troubles


@pytest.mark.parametrize("rate", ["", "fast", "10", "9999999", "-9600", "9600@9600"])
def test_what_is_no_baud_rate_is_refused(rate: str) -> None:
    with pytest.raises(SourceError, match="not a baud rate"):
        ObdSource(f"/dev/ttyUSB0@{rate}")
