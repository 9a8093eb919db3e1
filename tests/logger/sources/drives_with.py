"""Help to drive a source through a fault: read until something, and count what came."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import time
from collections.abc import Callable
from types import SimpleNamespace

import pytest

from logger.sources.contract import Reading, RpmSource, SourceTrouble
from tests.logger.sources.talkers import PtyAdapter, TcpAdapter

_PATIENCE_S = 20.0  # only so that a failing test ends


class FakeClock:
    """Stands still until somebody sleeps; then the adapter gets the time to settle."""

    def __init__(self, adapter: PtyAdapter | TcpAdapter | None = None) -> None:
        self.now_s = 0.0
        self._settle = adapter.settle if isinstance(adapter, PtyAdapter) else None

    def read(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.now_s += seconds
        if self._settle is not None:
            self._settle()


def hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take the pauses out of the libraries; what they read and write stays the same."""
    clock = SimpleNamespace(sleep=lambda seconds: None)
    monkeypatch.setattr("obd.elm327.time", clock)
    monkeypatch.setattr("serial.urlhandler.protocol_socket.time", clock)


class Drive:
    """Reads a source and keeps everything that it gives."""

    def __init__(self, source: RpmSource, timeout_s: float = 10.0) -> None:
        self.source = source
        self.timeout_s = timeout_s
        self.readings: list[Reading] = []
        self.troubles: list[SourceTrouble] = []
        self.longest_read_s = 0.0

    @property
    def rpm(self) -> list[float]:
        return [one.value for one in self.readings if one.quantity == "rpm"]

    def read(self, count: int = 1) -> None:
        for _ in range(count):
            began_s = time.perf_counter()
            event = self.source.read(self.timeout_s)
            self.longest_read_s = max(self.longest_read_s, time.perf_counter() - began_s)
            if isinstance(event, Reading):
                self.readings.append(event)
            elif event is not None:
                self.troubles.append(event)

    def until_rpm(self, more: int = 5) -> None:
        """Read until so many more values of rpm came."""
        wanted = len(self.rpm) + more
        self.until(lambda: len(self.rpm) >= wanted)

    def until_trouble(self) -> SourceTrouble:
        """Read until one more trouble was told."""
        wanted = len(self.troubles) + 1
        self.until(lambda: len(self.troubles) >= wanted)
        return self.troubles[-1]

    def until(self, is_so: Callable[[], bool]) -> None:
        """Read until something is so."""
        end_s = time.perf_counter() + _PATIENCE_S
        while not is_so():
            assert time.perf_counter() < end_s, f"waited in vain; troubles: {self.troubles}"
            self.read()
