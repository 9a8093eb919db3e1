"""A fault of an adapter or of a printing board while a drive is recorded: is any row wrong?

The adapters' faults are those of ``tests/logger/sources/obd/test_faults.py``; their car turns at
2,000 rpm throughout. The board's engine only rises.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import random
import socket
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.recorder_faults.outcome import LATE_S, Outcome, RisingEngine, wrong_count
from tests.live.faults import MICROPHONE, NAMES, RATE_HZ
from tests.live.in_step import Signals
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until
from tests.logger.sources.lines.test_damaged_lines import damaged
from tests.logger.sources.obd.test_faults import FAULTS, TRUE_RPM, Fault, heal
from tests.logger.sources.talkers import PtyAdapter, Server

_LASTS_S = 8.0
_EVERY_S = 0.05
_ROWS_AGAIN = 10
_BACK_WITHIN_S = 60.0
_BAD_WIRE = 0.07  # of the characters
_STALLS_S = 3.0
_PULL_RPM_PER_S = 150.0
_OBD = tuple(FAULTS)


class Board(Server):
    """Prints the engine's rpm twenty times a second; a fault changes what of it comes through."""

    def __init__(self, engine: RisingEngine) -> None:
        super().__init__()
        self.engine = engine
        self.through: Callable[[bytes], bytes] = _whole

    def __enter__(self) -> Board:
        super().__enter__()
        return self

    def serve(self, client: socket.socket) -> None:
        while not self._stop.wait(_EVERY_S):
            line = f"{self.engine.rpm_at(time.perf_counter()):.0f}\n".encode()
            client.sendall(self.through(line))


def _whole(line: bytes) -> bytes:
    return line


def _bad_wire(kind: str) -> Callable[[bytes], bytes]:
    rng = random.Random(kind)
    return lambda line: damaged(line.decode(), kind, _BAD_WIRE, rng).encode()


def _nothing(line: bytes) -> bytes:
    del line
    return b""


def _without_end(line: bytes) -> bytes:
    return line.strip()


def _other_rate(line: bytes) -> bytes:
    return bytes((byte << 3 ^ 0xB5) & 0xFF for byte in line)


class _FirstDigitLost:
    """A line in three lacks its first digit, as from a buffer that runs over."""

    def __init__(self) -> None:
        self._count = 0

    def __call__(self, line: bytes) -> bytes:
        self._count += 1
        return line if self._count % 3 else line[1:]


class _Held:
    """A link that stalls, and then brings everything at once."""

    def __init__(self) -> None:
        self._kept = b""
        self._until_s = time.perf_counter() + _STALLS_S

    def __call__(self, line: bytes) -> bytes:
        self._kept += line
        if time.perf_counter() < self._until_s:
            return b""
        kept, self._kept = self._kept, b""
        return kept


class _Dropouts:
    """A link that loses whatever came in each second half of a second."""

    def __call__(self, line: bytes) -> bytes:
        return line if time.perf_counter() % 1.0 < 0.5 else line[:2]


@dataclass(frozen=True)
class _BoardFault:
    """What comes through of a line."""

    through: Callable[[], Callable[[bytes], bytes]]


_BOARD = {
    "characters lost": _BoardFault(lambda: _bad_wire("lost")),
    "characters doubled": _BoardFault(lambda: _bad_wire("doubled")),
    "bits turned": _BoardFault(lambda: _bad_wire("turned")),
    "silent": _BoardFault(lambda: _nothing),
    "no line ends": _BoardFault(lambda: _without_end),
    "another baud rate": _BoardFault(lambda: _other_rate),
    "first digit lost": _BoardFault(_FirstDigitLost),
    "held back, then all at once": _BoardFault(_Held),
    "lines cut off": _BoardFault(_Dropouts),
    "unplugged": _BoardFault(lambda: _whole),
}


def strike(number: int) -> Outcome:
    """Record, strike, heal, and look at every row; two of three are a diagnostic adapter's."""
    if number % 3 == 2:
        return _strike_board(number, list(_BOARD)[number // 3 % len(_BOARD)])
    return _strike_adapter(
        number, _OBD[(number - number // 3) * 11 % len(_OBD)]
    )  # 11: all come in turn


def _strike_adapter(number: int, name: str) -> Outcome:
    fault: Fault = FAULTS[name]
    with PtyAdapter() as adapter, _Drive(f"obd:{adapter.path}") as drive:
        told = drive.live_through(lambda: fault.begins(adapter), lambda: heal(adapter))
        rpm = drive.recording.rpm_rows()["rpm"].to_numpy()
        wrong = wrong_count(rpm, np.full(rpm.size, TRUE_RPM))
        return drive.outcome(f"adapter: {name}", number, told or not fault.told, wrong)


def _strike_board(number: int, name: str) -> Outcome:
    engine, fault = RisingEngine(_PULL_RPM_PER_S), _BOARD[name]
    with Board(engine) as board, _Drive(f"serial:{board.url}") as drive:

        def begin() -> None:
            board.through = fault.through()
            if name == "unplugged":
                board.unplug()

        def heal_board() -> None:
            board.through = _whole

        told = drive.live_through(begin, heal_board)
        wrong = engine.wrong_count(drive.recording.rpm_rows(), drive.signals.origins_s()[0])
        return drive.outcome(f"board: {name}", number, told, wrong)


class _Drive(ExitStack):
    """A drive that is recorded with rpm from the source of this word."""

    def __init__(self, word: str) -> None:
        super().__init__()
        folder = Path(self.enter_context(tempfile.TemporaryDirectory(prefix="adapter")))
        server = self.enter_context(SoundServer(folder, NAMES))
        self._card = self.enter_context(SoundCard(server, MICROPHONE, RATE_HZ))
        options = (MICROPHONE, server.environment, "--rpm", word)
        self.recording = self.enter_context(Recording(folder / "drive", *options))
        self.signals = Signals(self.recording)

    def live_through(self, begin: Callable[[], None], end: Callable[[], None]) -> bool:
        """Strike and heal; tells whether trouble of the source was told."""
        self._wait_for_rows()
        self.signals.play(self._card)
        begin()
        threading.Event().wait(_LASTS_S)
        end()
        self._wait_for_rows()
        self.signals.play(self._card)
        self.recording.stop()
        return any(code.startswith("telemetry") for code in self.recording.trouble())

    def outcome(self, kind: str, number: int, told: bool, wrong: int) -> Outcome:
        """What came of it."""
        late_s = abs(self.signals.late_s())
        faults = (
            "" if told else f"not told, only {self.recording.trouble()}",
            "" if late_s <= LATE_S else f"sound late by {1e3 * late_s:.0f} ms",
            f"{wrong} rows wrong" if wrong else "",
        )
        return Outcome(
            kind=kind,
            number=number,
            told=told,
            late_s=late_s,
            rows=len(self.recording.rpm_rows()),
            wrong=wrong,
            fault="; ".join(fault for fault in faults if fault),
        )

    def _wait_for_rows(self) -> None:
        before = self._row_count()
        wait_until(
            lambda: self._row_count() >= before + _ROWS_AGAIN, self.recording.said, _BACK_WITHIN_S
        )

    def _row_count(self) -> int:
        path = self.recording.out / "telemetry.csv"
        return path.read_bytes().count(b"\n") if path.exists() else 0
