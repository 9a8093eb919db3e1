"""``check`` with devices that work, fail in every way, or come late; what it says and does."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import io
import json
import sys
import threading
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console
from serial.tools import list_ports

from logger.check import serial_ports
from logger.check.check import CheckRequest, check_devices, failures_as_error
from logger.check.cures import Cure, cure_for
from logger.check.screen import trial_screen
from logger.check.trial import Trial, try_devices
from logger.sources.contract import RpmSource, SourceTrouble
from tests.logger.check.fakes import (
    BLOCK,
    FACTS,
    RATE_HZ,
    REQUEST,
    FakeSound,
    FakeSource,
    Listener,
    clap,
    ports,
    reading,
    run,
)

__all__ = ["ports"]

# --- the microphone -----------------------------------------------------------------------------


@pytest.mark.usefixtures("ports")
def test_a_good_microphone(monkeypatch: pytest.MonkeyPatch) -> None:
    result, words, shown = run(monkeypatch, FakeSound(clap()))
    assert result.failures == ()
    assert "Measuring microphone: works" in words
    assert "Channel 1" in words
    assert "Channel 2" in words
    assert "within 0.1 % of 8000 Hz" in words
    assert "steady through a loud sound" in words
    assert "2 channels at 8000 Hz" in words
    assert "Warning" not in words
    assert "engine off, keep quiet" in shown
    assert "now clap or shout" in shown


@pytest.mark.usefixtures("ports")
def test_level_is_that_of_a_sine(monkeypatch: pytest.MonkeyPatch) -> None:
    """AES17: a sine of half of full scale has a level of -6.02 dB."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    sine = 0.5 * np.sin(2.0 * np.pi * 440.0 * time_s)
    _, words, _ = run(monkeypatch, FakeSound(np.stack([sine, sine], axis=1).astype(np.float32)))
    assert "level -6.0, peak -6.0 dB" in words


@pytest.mark.usefixtures("ports")
@pytest.mark.parametrize(
    ("sound", "words"),
    [
        (FakeSound(clap(0.2).clip(-1.0, 1.0)), "samples at full scale"),
        (FakeSound(clap(1e-5)), "very quiet, not once within 40 dB"),
        (FakeSound(clap(), loses_at=55), "0.40 s of sound were lost"),
    ],
)
def test_doubts_are_warnings(monkeypatch: pytest.MonkeyPatch, sound: FakeSound, words: str) -> None:
    result, text, _ = run(monkeypatch, sound)
    assert result.failures == ()
    assert words in text


@pytest.mark.usefixtures("ports")
@pytest.mark.parametrize(
    ("sound", "words", "cure"),
    [
        (FakeSound(clap() * 0.0), "is the same", Cure.SILENT),
        (FakeSound(clap()[:0]), "no sound came", Cure.NO_SOUND),
        (FakeSound(clap()[: 3 * RATE_HZ]), "stopped after 3.0 s", Cure.NO_SOUND),
    ],
)
def test_failures_tell_the_cure_after_everything_else(
    monkeypatch: pytest.MonkeyPatch, sound: FakeSound, words: str, cure: Cure
) -> None:
    result, text, _ = run(monkeypatch, sound)
    (failure,) = result.failures
    assert words in failure
    assert cure_for(cure) in failure
    assert "\n" not in failure
    assert text.index("Disk") < text.index("Failed")
    assert str(failures_as_error(result.failures)) == failure


@pytest.mark.usefixtures("ports")
def test_a_program_reads_what_can_record(monkeypatch: pytest.MonkeyPatch) -> None:
    result, _, _ = run(monkeypatch, FakeSound(clap(), refuses=True))
    document = json.loads(json.dumps(result.document()))
    assert [each["name"] for each in document["microphones"]] == [FACTS.name]
    assert document["failures"] == list(result.failures)
    assert len(result.failures) == 1
    assert {each["of"] for each in document["told"]} >= {"Serial port", "Disk"}


@pytest.mark.usefixtures("ports")
def test_a_microphone_that_is_busy_does_not_hide_the_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    source = FakeSource(reading(2000.0, 100.0), reading(2100.0, 101.0))
    result, text, _ = run(
        monkeypatch,
        FakeSound(clap(), refuses=True),
        source,
        request=CheckRequest(
            microphone=None, channels=None, rpm=("box:1",), cylinders=None, seconds=1.0
        ),
    )
    assert result.failures == ("microphone cannot be opened; close other programs",)
    assert "box:1: works" in text
    assert "1.0 readings a second, 2000 to 2100 rpm" in text


@pytest.mark.usefixtures("ports")
def test_without_portaudio_the_rest_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    monkeypatch.setattr(sys, "platform", "linux")
    result = check_devices(REQUEST, Console(file=io.StringIO()))
    out = io.StringIO()
    Console(file=out, width=200).print(result.text)
    assert "libportaudio2" in result.failures[0]
    assert "Disk" in out.getvalue()


# --- sources of rpm -----------------------------------------------------------------------------


def try_source(source: RpmSource, seconds: float = 1.0) -> Trial:
    clock = FakeSound(clap(), refuses=True).clock
    return try_devices(
        None,
        [source],
        seconds=seconds,
        show=lambda moment: None,
        clock=clock,
        first_reading_within_s=3.0,
    )


def test_a_source_without_sign_of_life_is_given_up() -> None:
    (heard,) = try_source(FakeSource()).sources
    assert (heard.readings, heard.troubles) == ((), ())


@pytest.mark.usefixtures("ports")
@pytest.mark.parametrize(
    ("events", "words"),
    [
        ((), "box:1 gave no reading; switch the ignition on"),
        (
            (SourceTrouble(code="no_data", message="no answer; turn the key", at_s=100.0),),
            "box:1: no answer; turn the key",
        ),
    ],
)
def test_a_source_that_gives_nothing_fails(
    monkeypatch: pytest.MonkeyPatch, events: tuple[SourceTrouble, ...], words: str
) -> None:
    result, text, _ = run(monkeypatch, FakeSound(clap()), FakeSource(*events))
    assert len(result.failures) == 1
    assert words in result.failures[0]
    assert "Measuring microphone: works" in text


@pytest.mark.usefixtures("ports")
def test_rate_values_answer_times_and_the_others_are_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Ten readings in 1.8 s are 5 a second; an answer of 40 ms is a half round trip of 20 ms."""
    rpm = [reading(1500.0 + k, 100.0 + 0.2 * k, round_trip_s=0.04) for k in range(10)]
    speed = reading(25.0, 101.0, "road_speed_m_s", round_trip_s=0.08)
    trouble = SourceTrouble(code="late", message="one answer was late", at_s=101.0)
    _, text, _ = run(monkeypatch, FakeSound(clap()), FakeSource(*rpm, speed, trouble))
    assert "5.0 readings a second, 1500 to 1509 rpm" in text
    assert "half a round trip takes 20 ms, at most 40 ms" in text
    assert "road speed 90 km/h" in text
    assert "one answer was late" in text


@pytest.mark.usefixtures("ports")
def test_a_listener_hears_every_frame_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    listener = Listener()
    _, text, _ = run(monkeypatch, FakeSound(clap()), listener)
    assert listener.frames == [(k * BLOCK, BLOCK) for k in range(100)]
    assert "600 to 600 rpm" in text
    assert "counts frames" in text


def test_several_failures_are_one_line() -> None:
    assert "2 things failed: a; b; and c" in str(failures_as_error(("a; b", "c")))


# --- serial ports -------------------------------------------------------------------------------


def test_ports_are_listed_and_none_is_explained() -> None:
    port = serial_ports.SerialPort(device="COM5", description="USB Serial")
    assert serial_ports.port_rows((port,)) == [("Serial port", "COM5 (USB Serial)")]
    assert cure_for(Cure.NO_PORT) in serial_ports.port_rows(())[0][1]
    assert "Bluetooth" in serial_ports.port_rows(None)[0][1]


@pytest.mark.skipif(sys.platform == "win32", reason="no such permissions there")
def test_a_barred_port_names_the_group(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    device = tmp_path / "ttyUSB0"
    device.touch()
    monkeypatch.setattr("os.access", lambda path, mode: False)
    monkeypatch.setattr(Path, "group", lambda self: "dialout")
    port = serial_ports.SerialPort(device=str(device), description="n/a")
    (row,) = serial_ports.port_rows((port,))
    assert "sudo usermod -a -G dialout $USER" in row[1]


def test_a_system_that_does_not_answer_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    release = threading.Event()
    monkeypatch.setattr(list_ports, "comports", lambda: release.wait(10.0) and [])
    assert serial_ports.serial_ports(patience_s=0.01) is None
    release.set()


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32", "freebsd13"])
def test_every_platform_has_every_cure(platform: str) -> None:
    assert all(len(cure_for(what, platform)) > 20 for what in Cure)


def test_a_terminal_shows_a_bar() -> None:
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=80)
    with trial_screen(console, 10.0, prompts=True) as show:
        trial = try_devices(
            sound := FakeSound(clap()), (), seconds=10.0, show=show, clock=sound.clock
        )
    assert trial.heard is not None
    assert "━" in out.getvalue()
    assert "keep quiet again" in out.getvalue()
