"""Which clock goes on while a laptop sleeps, on each system."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import time

import pytest

from logger.recording import clock_watch


@pytest.mark.parametrize(
    ("platform", "name", "number"),
    [("linux", "CLOCK_BOOTTIME", 7), ("darwin", "CLOCK_MONOTONIC", 1)],
)
def test_the_clock_that_counts_sleep_is_read(
    monkeypatch: pytest.MonkeyPatch, platform: str, name: str, number: int
) -> None:
    """Names by clock_gettime(2) of Linux and clock_gettime(3) of macOS, from memory."""
    monkeypatch.setattr("logger.recording.clock_watch.sys.platform", platform)
    monkeypatch.setattr(time, name, number, raising=False)
    monkeypatch.setattr(time, "clock_gettime", {number: 42.0}.__getitem__, raising=False)
    assert clock_watch.read_clocks().awake_or_asleep_s == 42.0


def test_on_windows_sleep_looks_like_a_program_that_stood_still(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """There perf_counter goes on itself while the laptop sleeps."""
    monkeypatch.setattr("logger.recording.clock_watch.sys.platform", "win32")
    now_s = [100.0]
    monkeypatch.setattr(time, "perf_counter", lambda: now_s[0])
    monkeypatch.setattr(time, "time", lambda: 1e9 + now_s[0])
    watch = clock_watch.ClockWatch(clock_watch.read_clocks)
    now_s[0] += 60.0
    trouble = watch.look()
    assert trouble is not None
    assert (trouble.code, trouble.duration_s) == ("stood_still", 60.0)
    now_s[0] += 1.0
    assert watch.look() is None
