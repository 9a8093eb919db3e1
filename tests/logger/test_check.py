"""``check`` with devices that work, fail in every way, or come late; what it says and does."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import io
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray
from rich.console import Console
from serial.tools import list_ports

from logger import check, serial_ports
from logger.calibration import read_calibration
from logger.calibrator_tone import CalibrationError
from logger.check import CheckResult, calibrate, check_devices, failures_as_error
from logger.check_options import CheckOptionError, CheckRequest, add_check_options, check_request
from logger.check_screen import trial_screen
from logger.cures import Cure, cure_for
from logger.device_trial import Trial, try_devices
from logger.errors import DeviceError
from logger.microphone import MicrophoneFacts, SoundBlock
from logger.sources.contract import Reading, RpmSource, SourceTrouble

RATE_HZ = 8000
BLOCK = 800
REQUEST = CheckRequest(microphone=None, channels=None, rpm=(), cylinders=None, seconds=10.0)
FACTS = MicrophoneFacts(
    index=0,
    name="Measuring microphone",
    host="ALSA",
    channel_count=2,
    sample_rate_hz=RATE_HZ,
    is_default=True,
)

Samples = NDArray[np.float32]


@dataclass
class FakeSound:
    """Gives its samples 0.1 s at a time, on a clock of its own; then nothing more.

    Afterwards, or when it cannot be opened, time passes by being looked at.
    """

    samples: Samples
    refuses: bool = False
    loses_at: int = -1  # the block before which 0.4 s are lost
    now_s: float = 100.0
    name: str = FACTS.name
    sample_rate_hz: int = RATE_HZ
    given: int = field(default=0)

    @property
    def channel_count(self) -> int:
        return int(self.samples.shape[1])

    def clock(self) -> float:
        if self.refuses or self.given >= self.samples.shape[0] // BLOCK:
            self.now_s += 0.2
        return self.now_s

    def __enter__(self) -> FakeSound:
        if self.refuses:
            raise DeviceError("microphone cannot be opened; close other programs")
        return self

    def __exit__(self, *_: object) -> None:
        return

    def next_block(self) -> SoundBlock | None:
        block = self.samples[self.given * BLOCK : (self.given + 1) * BLOCK]
        self.now_s += BLOCK / RATE_HZ
        if block.shape[0] < BLOCK:
            return None
        if self.given == self.loses_at:
            self.now_s += 0.4
        self.given += 1
        return SoundBlock(samples=block, arrived_s=self.now_s)


class FakeSource:
    """Gives what it was told, once."""

    def __init__(self, *events: Reading | SourceTrouble) -> None:
        self.name = "box:1"
        self._events = list(events)
        self._closed = threading.Event()

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        if self._events:
            return self._events.pop(0)
        self._closed.wait(min(timeout_s, 0.01))
        return None

    def close(self) -> None:
        self._closed.set()


class Listener(FakeSource):
    """Counts the frames it hears; its reading tells how many."""

    description = "counts frames"

    def __init__(self) -> None:
        super().__init__()
        self.frames: list[tuple[int, int]] = []

    def hear(
        self, samples: Samples, *, first_frame: int, sample_rate_hz: int, arrived_s: float
    ) -> None:
        assert sample_rate_hz == RATE_HZ
        self.frames.append((first_frame, samples.shape[0]))
        self._events.append(reading(600.0, arrived_s))

    def break_off(self) -> None:
        return


def reading(value: float, at_s: float, quantity: str = "rpm", round_trip_s: float = 0.0) -> Reading:
    return Reading(quantity=quantity, value=value, request_s=at_s - round_trip_s, reply_s=at_s)


def clap(level: float = 1e-2) -> Samples:
    """Ten seconds: silence, a second and a half of noise, silence; both channels."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    rng = np.random.default_rng(1)
    loud = np.where((time_s > 4.5) & (time_s < 6.0), 10.0, 1.0)
    return (level * loud[:, np.newaxis] * rng.normal(size=(time_s.size, 2))).astype(np.float32)


@pytest.fixture
def ports(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serial_ports, "serial_ports", lambda: ())


def run(
    monkeypatch: pytest.MonkeyPatch,
    sound: FakeSound,
    *sources: RpmSource,
    request: CheckRequest = REQUEST,
) -> tuple[CheckResult, str, str]:
    """The check with this microphone and these sources: result, text, and what was shown."""
    put_in(monkeypatch, sound)
    monkeypatch.setattr(check, "choose_sources", lambda words, cylinders: sources)
    err, out = io.StringIO(), io.StringIO()
    result = check_devices(request, Console(file=err, width=80))
    Console(file=out, width=80).print(result.text)
    assert max(map(len, out.getvalue().splitlines())) <= 80
    words = " ".join(out.getvalue().split())
    return result, words, err.getvalue()


def put_in(monkeypatch: pytest.MonkeyPatch, sound: FakeSound) -> None:
    def trial(*args: object, **options: object) -> Trial:
        options |= {"clock": sound.clock, "first_reading_within_s": 3.0}
        return try_devices(*args, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(check, "load_portaudio", lambda: ModuleType("sounddevice"))
    monkeypatch.setattr(check, "list_microphones", lambda audio: (FACTS,))
    monkeypatch.setattr(check, "Microphone", lambda audio, facts, channels: sound)
    monkeypatch.setattr(check, "try_devices", trial)


# --- the microphone -----------------------------------------------------------------------------


@pytest.mark.usefixtures("ports")
def test_a_good_microphone(monkeypatch: pytest.MonkeyPatch) -> None:
    result, words, shown = run(monkeypatch, FakeSound(clap()))
    assert result.failures == ()
    assert "Measuring microphone: works" in words
    assert "Channel 1" in words
    assert "Channel 2" in words
    assert "within 0.1 % of 8000 Hz" in words
    assert "steady over a loud sound" in words
    assert "2 channels at 8000 Hz" in words
    assert "Warning" not in words
    assert "engine off, be silent" in shown
    assert "now clap or shout" in shown
    assert "dB re full scale" in shown


@pytest.mark.usefixtures("ports")
def test_level_is_that_of_a_sine(monkeypatch: pytest.MonkeyPatch) -> None:
    """AES17: a sine of half of full scale has a level of -6.02 dB."""
    time_s = np.arange(10 * RATE_HZ) / RATE_HZ
    sine = 0.5 * np.sin(2.0 * np.pi * 440.0 * time_s)
    _, words, _ = run(monkeypatch, FakeSound(np.stack([sine, sine], axis=1).astype(np.float32)))
    assert "level -6.0, peak -6.0 dB re full scale" in words


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
    assert "sudo apt install libportaudio2" in result.failures[0]
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
    assert serial_ports.rows_for((port,)) == [("Serial port", "COM5 (USB Serial)")]
    assert cure_for(Cure.NO_PORT) in serial_ports.rows_for(())[0][1]
    assert "Bluetooth" in serial_ports.rows_for(None)[0][1]


@pytest.mark.skipif(sys.platform == "win32", reason="no such permissions there")
def test_a_barred_port_names_the_group(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    device = tmp_path / "ttyUSB0"
    device.touch()
    monkeypatch.setattr("os.access", lambda path, mode: False)
    monkeypatch.setattr(Path, "group", lambda self: "dialout")
    port = serial_ports.SerialPort(device=str(device), description="n/a")
    (row,) = serial_ports.rows_for((port,))
    assert "sudo usermod -a -G dialout $USER" in row[1]


def test_a_system_that_does_not_answer_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    release = threading.Event()
    monkeypatch.setattr(list_ports, "comports", lambda: release.wait(10.0) and [])
    assert serial_ports.serial_ports(patience_s=0.01) is None
    release.set()


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32", "freebsd13"])
def test_every_platform_has_every_cure(platform: str) -> None:
    assert all(len(cure_for(what, platform)) > 20 for what in Cure)


# --- calibration --------------------------------------------------------------------------------


def sine(amplitude: float = 0.1) -> Samples:
    time_s = np.arange(8 * RATE_HZ) / RATE_HZ
    wave = amplitude * np.sin(2.0 * np.pi * 1000.0 * time_s)
    wave[: RATE_HZ // 2] *= 0.3  # the hand is still on it
    return np.stack([0.01 * wave, wave], axis=1).astype(np.float32)


def test_calibrate_writes_what_it_measured(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    put_in(monkeypatch, FakeSound(sine()))
    out = tmp_path / "mic.json"
    shown = io.StringIO()
    made = calibrate(
        REQUEST, 94, out, Console(file=shown, width=80), overwrite=False, software_version="1"
    )
    assert read_calibration(out) == made
    assert made.full_scale_db_spl == pytest.approx(114.0, abs=0.01)
    assert (made.channel, made.microphone, made.host) == (2, FACTS.name, FACTS.host)
    assert "clap" not in shown.getvalue()


@pytest.mark.parametrize(
    ("samples", "error", "words"),
    [
        (clap, CalibrationError, "no tone near 1000 Hz|above the other sound"),
        (lambda: 0.0 * sine(), DeviceError, "is the same"),
    ],
)
def test_a_bad_take_writes_nothing(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    samples: Callable[[], Samples],
    error: type[Exception],
    words: str,
) -> None:
    put_in(monkeypatch, FakeSound(samples()))
    out = tmp_path / "mic.json"
    with pytest.raises(error, match=words):
        calibrate(
            REQUEST, 94, out, Console(file=io.StringIO()), overwrite=False, software_version=""
        )
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_refused_before_anybody_measures(tmp_path: Path) -> None:
    out = tmp_path / "mic.json"
    out.touch()
    with pytest.raises(CalibrationError, match="exists already"):
        calibrate(
            REQUEST, 94, out, Console(file=io.StringIO()), overwrite=False, software_version=""
        )


# --- options ------------------------------------------------------------------------------------


def parsed(*words: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    add_check_options(parser)
    return parser.parse_args(words)


def test_options_become_a_request() -> None:
    assert check_request(parsed()) == REQUEST
    many = check_request(parsed("--rpm", "obd:auto", "--rpm", "pulse:2", "--channels", "2,1"))
    assert (many.rpm, many.channels) == (("obd:auto", "pulse:2"), (1, 2))


@pytest.mark.parametrize(
    ("words", "refusal"),
    [
        (("--calibrate", "94"), "belong together"),
        (("--out", "mic.json"), "belong together"),
        (("--calibrate", "94", "--out", "m.json", "--rpm", "obd:auto"), "leave --rpm out"),
        (("--seconds", "500"), "too long"),
    ],
)
def test_options_that_do_not_go_together(words: tuple[str, ...], refusal: str) -> None:
    with pytest.raises(CheckOptionError, match=refusal):
        check_request(parsed(*words))


def test_a_terminal_shows_a_bar() -> None:
    out = io.StringIO()
    console = Console(file=out, force_terminal=True, width=80)
    with trial_screen(console, 10.0, prompts=True) as show:
        trial = try_devices(
            sound := FakeSound(clap()), (), seconds=10.0, show=show, clock=sound.clock
        )
    assert trial.heard is not None
    assert "━" in out.getvalue()
    assert "be silent again" in out.getvalue()
