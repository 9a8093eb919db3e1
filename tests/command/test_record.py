"""``record`` and ``check`` as scripts call them, with a stand-in for PortAudio."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import contextlib
import errno
import io
import signal
import sys
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import logger.screen.plain_lines
from logger.microphone.calibration import write_calibration
from logger.recording.status import Status
from logger.screen.before_the_drive import CAUTIONS
from logger.screen.mark_key import MarkKey
from logger.session import read_session
from tests.command_line import CAR, Run
from tests.logger.microphone.fake_portaudio import FakeStream, fake_portaudio
from tests.logger.microphone.test_calibration import GOOD
from tests.logger.recording.scripted import LSB_24, noise


class TalkingStream(FakeStream):
    """Gives two seconds at once."""

    def start(self) -> None:
        for block in np.split(noise(96_000, 2), 20):
            self.callback(block, block.shape[0], None, None)


@pytest.fixture
def portaudio(monkeypatch: pytest.MonkeyPatch) -> None:
    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", TalkingStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)


@pytest.mark.usefixtures("portaudio")
def test_record_saves_a_session_that_find_can_open(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    result = run("record", "--out", out, "--car", CAR, "--seconds", "1.5", "--plain")
    assert result.status == 0
    assert result.out.splitlines()[-1] == f"Next: pipenote find {out}"
    assert "Carbon monoxide" in result.err
    session = read_session(out)
    assert session.frame_count == 72_000
    assert session.metadata.cylinders == 6
    assert session.metadata.trouble == ()
    assert run("record", "--out", out, "--seconds", "1").status == 2
    assert run("find", out).status == 2  # no log, and noise tells no engine speed


@pytest.mark.usefixtures("portaudio")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_interrupted_recording_is_saved_and_told(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: signal.Signals
) -> None:
    def interrupt(status: Status) -> str:
        signal.raise_signal(number)
        return f"{status.elapsed_s} s"

    monkeypatch.setattr(logger.screen.plain_lines, "status_line", interrupt)
    handler = signal.getsignal(number)
    result = run("record", "--out", tmp_path / "drive")
    assert result.status == 130
    assert str(tmp_path / "drive") in result.out
    session = read_session(tmp_path / "drive")
    assert (session.frame_count, session.metadata.trouble) == (96_000, ())
    assert signal.getsignal(number) is handler


@pytest.mark.usefixtures("portaudio")
def test_the_channel_of_the_pickup_is_never_taken_for_cabin_sound(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    assert run("record", "--out", out, "--rpm", "pulse:1@1", "--seconds", "1").status == 0
    session = read_session(out)
    assert session.metadata.pickup_channels == (1,)
    sound = session.drive().sound
    assert sound is not None
    heard = np.concatenate(list(sound.read_blocks()))
    np.testing.assert_allclose(heard, noise(96_000, 2)[:48_000, 1], atol=LSB_24)
    refused = run("find", out, "--channel", "1", "--cylinders", "6")
    assert refused.status == 2
    assert "channel 1" in refused.err
    assert "ignition pickup" in refused.err


@pytest.mark.usefixtures("portaudio")
@pytest.mark.parametrize(
    ("options", "said"),
    [
        ("--rpm pulse:2 --channels 1", "pulse:2 listens to channel 2 of the recording, which has"),
        ("--rpm pulse:3", "pulse:3 listens to channel 3 of the recording, which has"),
        ("--rpm pulse:1 --channels 1", "no channel is left for the sound of the cabin"),
        ("--rpm pulse:1 --rpm pulse:2", "no channel is left for the sound of the cabin"),
    ],
)
def test_a_pickup_that_cannot_be_recorded_beside_the_cabin_is_refused(
    run: Run, tmp_path: Path, options: str, said: str
) -> None:
    result = run("record", "--out", tmp_path / "drive", "--seconds", "1", *options.split())
    assert (result.status, result.err.count("\n")) == (2, 1)
    assert said in result.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("portaudio")
def test_the_channel_at_the_tail_is_kept_with_the_session(run: Run, tmp_path: Path) -> None:
    out = tmp_path / "drive"
    result = run("record", "--out", out, "--tail-channel", "2", "--seconds", "1")
    assert result.status == 0
    assert "Never held out of a moving car" in " ".join(result.err.split())
    drive = read_session(out).drive()
    assert drive.sound is not None
    assert drive.tail is not None
    assert (drive.sound.channel, drive.tail.channel) == (1, 2)


@pytest.mark.usefixtures("portaudio")
@pytest.mark.parametrize("options", ["--channels 1", "--rpm pulse:1", "--rpm pulse:2"])
def test_cabin_and_tail_need_a_channel_each(run: Run, tmp_path: Path, options: str) -> None:
    words = ("record", "--out", tmp_path / "drive", "--seconds", "1", "--tail-channel", "2")
    result = run(*words, *options.split())
    assert (result.status, result.err.count("\n")) == (2, 1)
    assert "--tail-channel 2 is not possible" in result.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("portaudio")
def test_a_calibration_of_the_pickups_channel_is_refused(run: Run, tmp_path: Path) -> None:
    calibration = tmp_path / "mic.json"
    made = replace(GOOD, microphone="USB measuring microphone", host="ALSA", channel=2)
    write_calibration(made, calibration, overwrite=False)
    words = ("--out", tmp_path / "drive", "--seconds", "1", "--calibration", calibration)
    assert run("record", *words, "--rpm", "pulse:2").status == 2
    assert run("record", *words).status == 0


def test_a_stop_while_the_devices_are_listed_is_not_lost(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is called from C swallows the exception that a Ctrl-C is."""
    audio = fake_portaudio()
    devices = audio.query_devices()

    def interrupted() -> object:
        with contextlib.suppress(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        return devices

    monkeypatch.setattr(audio, "query_devices", interrupted)
    monkeypatch.setattr(audio, "InputStream", TalkingStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)
    result = run("record", "--out", tmp_path / "drive", "--seconds", "1")
    assert (result.status, result.out) == (130, "")
    assert "interrupted" in result.err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_exists_is_refused_before_anything_else(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    result = run("record", "--out", tmp_path, "--seconds", "1")
    assert (result.status, result.err.count("\n")) == (2, 1)
    assert "exists already" in result.err


@pytest.mark.usefixtures("portaudio")
def test_a_terminal_that_can_do_nothing_gets_plain_lines(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")  # as far as rich goes, a terminal
    monkeypatch.setenv("TERM", "dumb")
    monkeypatch.setattr(logger.screen.plain_lines, "status_line", _interrupt)
    result = run("record", "--out", tmp_path / "drive", "--seconds", "4")
    assert result.status == 130
    assert "2.0 s, and then somebody stopped" in result.err


def _interrupt(status: Status) -> str:
    signal.raise_signal(signal.SIGINT)
    return f"{status.elapsed_s} s, and then somebody stopped"


class SteadyStream(FakeStream):
    """Gives 20 ms of noise again and again until it is closed."""

    def start(self) -> None:
        self.closed = threading.Event()
        threading.Thread(target=self.talk, daemon=True).start()

    def talk(self) -> None:
        block = noise(960, 2)
        while not self.closed.wait(0.02):
            self.callback(block, block.shape[0], None, None)

    def close(self) -> None:
        self.closed.set()


HEADLINES = len(CAUTIONS) + 1


class Abandoned(io.StringIO):
    """Standard error that nobody reads any more after some writes."""

    def __init__(self, writes: int, error: OSError, descriptor: int) -> None:
        super().__init__()
        self.refused = 0
        self._left = writes
        self._error = error
        self._descriptor = descriptor

    def write(self, text: str) -> int:
        self._left -= 1
        if self._left < 0:
            self.refused += 1
            raise self._error
        return super().write(text)

    def fileno(self) -> int:
        return self._descriptor


@pytest.mark.parametrize(
    ("writes", "error"),
    [
        (0, BrokenPipeError(errno.EPIPE, "gone")),
        (0, OSError(errno.EIO, "gone")),
        (3, BrokenPipeError(errno.EPIPE, "gone")),
        (HEADLINES, BrokenPipeError(errno.EPIPE, "gone")),
        (HEADLINES, OSError(errno.EIO, "gone")),
    ],
)
def test_reader_that_goes_away_does_not_end_the_drive(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writes: int, error: OSError
) -> None:
    """As ``2>&1 | head`` does, or a terminal that is closed: at the cautions, or at the lines."""
    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", SteadyStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)
    with (tmp_path / "pipe").open("w") as pipe:
        stderr = Abandoned(writes, error, pipe.fileno())
        monkeypatch.setattr(sys, "stderr", stderr)
        monkeypatch.setattr(sys.stdout, "fileno", pipe.fileno)  # else rich fails before it exits
        result = run("record", "--out", tmp_path / "drive", "--seconds", "0.7")
    assert stderr.refused > 0
    assert result.status == 0
    assert str(tmp_path / "drive") in result.out
    assert read_session(tmp_path / "drive").frame_count == 33_600


@pytest.mark.usefixtures("portaudio")
def test_plain_lines_leave_the_keyboard_alone(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    @contextlib.contextmanager
    def mark_key() -> Iterator[MarkKey]:
        asked.append("for keys")
        yield MarkKey(None)

    monkeypatch.setattr("logger.record.mark_key", mark_key)
    assert run("record", "--out", tmp_path / "drive", "--seconds", "1", "--plain").status == 0
    assert asked == []
    assert run("record", "--out", tmp_path / "other", "--seconds", "1").status == 0
    assert asked == ["for keys"]


def test_check_lists_and_tries(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    audio = fake_portaudio()
    monkeypatch.setattr(audio, "InputStream", SteadyStream)
    monkeypatch.setitem(sys.modules, "sounddevice", audio)
    result = run("check", "--seconds", "1")
    assert result.status == 0
    assert "USB measuring microphone" in result.out
    assert "works" in result.out
    assert "Serial port" in result.out
    assert result.out.splitlines()[-1] == "Next: pipenote record --out monday"


def test_missing_portaudio_is_status_3_and_says_the_cure(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    monkeypatch.setattr(sys, "platform", "linux")
    for command in (("record", "--out", tmp_path / "drive"), ("check",)):
        result = run(*command)
        assert (result.status, result.err.count("\n")) == (3, 1)
        assert "sudo apt install libportaudio2" in result.err
    assert list(tmp_path.iterdir()) == []
