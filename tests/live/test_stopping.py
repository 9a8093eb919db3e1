"""Ctrl-C, a polite kill and a closed window: the drive is saved, and it is said where."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from logger.session import read_session
from tests.live.recording import ROOT, Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.terminal import Terminal
from tests.live.waiting import LONG_S, wait_until
from tests.logger.sources.talkers import needs_pty

INTERRUPTED = 130


def press_control_c(terminal: Terminal) -> None:
    terminal.press(b"\x03")


def kill_politely(terminal: Terminal) -> None:
    terminal.process.send_signal(signal.SIGTERM)


def close_the_window(terminal: Terminal) -> None:
    terminal.close()


@needs_pty
@pytest.mark.parametrize("stop", [press_control_c, kill_politely, close_the_window])
def test_stopping_saves(
    tmp_path: Path, sound_server: SoundServer, card: SoundCard, stop: Callable[[Terminal], None]
) -> None:
    recording = Recording(tmp_path / "drive", card.name, sound_server.environment)
    with Terminal(recording.arguments(), sound_server.environment) as terminal:
        wait_until(lambda: recording.seconds() >= 1.0, terminal.said)
        enough_s = recording.seconds()
        stop(terminal)
        status = terminal.process.wait(timeout=LONG_S)
        said = terminal.said()
    session = read_session(recording.out)
    assert status == INTERRUPTED, said
    assert "Traceback" not in said
    assert recording.document()["state"] == "complete"
    assert recording.document()["trouble"] == []
    assert session.frame_count / card.rate_hz >= enough_s
    if stop is not close_the_window:  # then there is nowhere to say it
        assert str(recording.out) in "".join(said.split("\r\n")[-2:])


@pytest.mark.parametrize("lines", [2, 13])
def test_reader_that_goes_away_does_not_end_the_drive(
    tmp_path: Path, sound_server: SoundServer, card: SoundCard, lines: int
) -> None:
    """As ``2>&1 | head`` does: the first lines are cautions, the later ones levels."""
    recording = Recording(tmp_path / "drive", card.name, sound_server.environment)
    command = [sys.executable, *recording.arguments(), "--plain"]
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=sound_server.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    ) as process:
        try:
            assert process.stdout is not None
            for _ in range(lines):
                assert process.stdout.readline()
            process.stdout.close()
            enough_s = recording.seconds() + 3.0
            wait_until(lambda: recording.seconds() >= enough_s)
            process.send_signal(signal.SIGINT)
            assert process.wait(timeout=LONG_S) in (0, INTERRUPTED)
        finally:
            process.kill()
    assert recording.document()["state"] == "complete"
    assert recording.document()["trouble"] == []
