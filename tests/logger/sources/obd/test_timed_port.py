"""The port that never hangs: how long it waits, counted on a clock of its own."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import socket
from collections.abc import Iterator
from types import SimpleNamespace

import pytest
import serial

from logger.sources.serial_urls import protocol_timed
from logger.sources.serial_urls.protocol_timed import timed_url

STEP_S = 0.1


class Line:
    """A port opened through its address, the other end of it, and a clock that each look moves."""

    def __init__(self, listener: socket.socket) -> None:
        self.now_s = 0.0
        name = f"socket://127.0.0.1:{listener.getsockname()[1]}"
        url = timed_url(name, reply_limit_s=3.0, search_limit_s=15.0)
        port_name, kind = protocol_timed.serial_class_for_url(url)
        assert port_name == name
        self.port = kind(port_name, timeout=10)
        self.adapter, _ = listener.accept()

    def clock(self) -> float:
        self.now_s += STEP_S
        return self.now_s


@pytest.fixture
def line(monkeypatch: pytest.MonkeyPatch) -> Iterator[Line]:
    monkeypatch.setattr("serial.urlhandler.protocol_socket.time", SimpleNamespace(sleep=abs))
    monkeypatch.setattr(protocol_timed, "_SLICE_S", 0.001)
    clock = SimpleNamespace(perf_counter=lambda: 0.0)
    monkeypatch.setattr(protocol_timed, "time", clock)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        line = Line(listener)
        clock.perf_counter = line.clock
        with line.adapter, line.port:
            yield line


def waited_in_vain(line: Line, printed: bytes = b"") -> float:
    """Ask, hear only ``printed``, and give how long it took to give up."""
    line.port.write(b"010C\r")
    asked_s = line.now_s
    line.adapter.sendall(printed)
    assert b"".join(line.port.read(1) for _ in printed) == printed
    with pytest.raises(serial.SerialException, match="no answer"):
        line.port.read(1)
    return line.now_s - asked_s


@pytest.mark.parametrize("printed", [b"", b"7E8 04 41"], ids=["silent", "no end"])
def test_without_an_answer_it_is_lost_after_the_reply_limit(line: Line, printed: bytes) -> None:
    assert waited_in_vain(line, printed) == pytest.approx(3.0, abs=3 * STEP_S)


@pytest.mark.parametrize("words", [b"SEARCHING...", b"BUS INIT: ..."])
def test_a_search_may_go_on_for_a_while_after_opening_only(line: Line, words: bytes) -> None:
    assert waited_in_vain(line, words) == pytest.approx(15.0, abs=3 * STEP_S)
    assert waited_in_vain(line, words) == pytest.approx(3.0, abs=3 * STEP_S)


def test_after_the_prompt_nothing_is_waited_for(line: Line) -> None:
    line.port.write(b"010C\r")
    line.adapter.sendall(b"\r>")
    assert line.port.read(1) + line.port.read(1) == b"\r>"
    before_s = line.now_s
    assert line.port.read(1) == b""
    assert line.now_s == before_s


def test_the_set_up_must_end_but_the_drive_need_not(line: Line) -> None:
    line.port.write(b"ATE0\r")
    line.now_s += 16.0
    line.port.write(b"010C\r")
    with pytest.raises(serial.SerialException, match="set-up"):
        line.port.write(b"ATTP6\r")


def test_what_is_not_ascii_cannot_vanish_from_a_line(line: Line) -> None:
    line.port.write(b"010C\r")
    line.adapter.sendall(b"4\xb1\xffC")
    assert b"".join(line.port.read(1) for _ in range(4)) == b"4??C"
