"""Choosing and opening a microphone, with a stand-in for PortAudio."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import math
import sys
import threading
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from logger.errors import DeviceError
from logger.microphone.device import Microphone
from logger.microphone.microphones import (
    MicrophoneFacts,
    choose_channels,
    choose_microphone,
    lasting_name,
    list_microphones,
)
from logger.microphone.portaudio import load_portaudio
from tests.logger.microphone.fake_portaudio import (
    BLOCK,
    FakeStream,
    PortAudioError,
    fake_portaudio,
)

MICROPHONES = list_microphones(fake_portaudio())


def test_only_inputs_are_listed_with_their_index() -> None:
    assert [(one.index, one.is_default) for one in MICROPHONES] == [(0, False), (2, True)]


@pytest.mark.parametrize(
    ("wanted", "index"), [(None, 2), ("0", 0), ("Headset", 0), ("usb measuring", 2)]
)
def test_microphone_is_chosen_by_number_or_name(wanted: str | None, index: int) -> None:
    assert choose_microphone(MICROPHONES, wanted).index == index


@pytest.mark.parametrize("wanted", ["7", "e", "guitar"])
def test_unclear_choice_is_refused_by_name(wanted: str) -> None:
    with pytest.raises(DeviceError, match="pipenote check lists them"):
        choose_microphone(MICROPHONES, wanted)


def test_no_microphone_at_all() -> None:
    with pytest.raises(DeviceError, match="no microphone was found"):
        choose_microphone((), None)


def facts() -> MicrophoneFacts:
    return MICROPHONES[1]


def test_callback_copies_the_buffer() -> None:
    with Microphone(fake_portaudio(), facts(), (1, 2)) as microphone:
        block = microphone.next_block()
    assert block is not None
    assert np.unique(block.samples).tolist() == [0.25]


def test_stream_that_cannot_start_is_one_clear_error(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: FakeStream) -> None:
        raise PortAudioError("Device unavailable")

    monkeypatch.setattr(FakeStream, "start", refuse)
    with (
        pytest.raises(DeviceError, match="close other programs"),
        Microphone(fake_portaudio(), facts(), (1, 2)),
    ):
        pass


@pytest.mark.parametrize(
    ("platform", "cure"),
    [("linux", "sudo apt install libportaudio2"), ("darwin", "brew"), ("win32", "pip install")],
)
def test_missing_portaudio_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, platform: str, cure: str
) -> None:
    # sounddevice raises OSError at import when PortAudio is missing.
    (tmp_path / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n')
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "platform", platform)
    with pytest.raises(DeviceError, match=cure):
        load_portaudio()


def test_only_the_chosen_channels_are_recorded() -> None:
    with Microphone(fake_portaudio(), facts(), (2,)) as microphone:
        block = microphone.next_block()
    assert block is not None
    assert block.samples.shape == (BLOCK, 1)


def test_first_two_channels_are_the_default_and_a_missing_one_is_refused() -> None:
    assert choose_channels(facts(), None) == (1, 2)
    with pytest.raises(DeviceError, match="has 2 channel"):
        choose_channels(facts(), (1, 3))


def test_sound_is_handed_over_together_and_what_is_left_before_a_break(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(FakeStream, "start", lambda self: None)
    with Microphone(fake_portaudio(), facts(), (1,)) as microphone:
        for number in range(5):
            microphone.take(np.full((BLOCK // 4, 2), number, dtype=np.float32))
        joined = microphone.next_block()
        assert joined is not None
        assert joined.samples[:: BLOCK // 4, 0].tolist() == [0.0, 1.0, 2.0, 3.0]
    left = microphone.next_block()
    assert left is not None
    assert left.samples[:, 0].tolist() == [4.0] * (BLOCK // 4)
    assert microphone.next_block() is None


class Replugged:
    """A stand-in for PortAudio whose only microphone is at another rate by now."""

    def __init__(self, rate_hz: float) -> None:
        self.audio = fake_portaudio()
        self.tries = threading.Semaphore(0)
        self.is_fixed = True
        self._device = dict(self.audio.query_devices()[2], default_samplerate=rate_hz)

        def open_stream(**options: Any) -> FakeStream:
            self.tries.release()
            if not self.is_fixed:
                raise PortAudioError("Invalid sample rate")
            return FakeStream(**options)

        vars(self.audio).update(query_devices=lambda: [self._device], InputStream=open_stream)

    def named(self, name: str) -> None:
        self._device["name"] = name


@pytest.mark.parametrize(
    ("rate_hz", "words"),
    [
        (44100.0, "at 44100 Hz, and refuses the 48000 Hz of this recording"),
        (48000.0, "close other"),
    ],
)
def test_microphone_that_is_back_but_does_not_open_says_why_until_it_does(
    monkeypatch: pytest.MonkeyPatch, rate_hz: float, words: str
) -> None:
    monkeypatch.setattr("logger.microphone.device._GONE_S", 0.0)
    monkeypatch.setattr("logger.microphone.device._LOOK_EVERY_S", 0.01)
    device = Replugged(rate_hz)
    with Microphone(device.audio, facts(), (1, 2)) as microphone:
        assert microphone.refusal == ""
        device.is_fixed = False
        while words not in microphone.refusal:
            assert device.tries.acquire(timeout=10.0)
        device.is_fixed = True
        while microphone.refusal:
            assert device.tries.acquire(timeout=10.0)


def test_microphone_is_known_again_in_another_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    # ALSA numbers its cards in the order in which they came; PortAudio puts that into the name.
    monkeypatch.setattr("logger.microphone.device._GONE_S", 0.0)
    monkeypatch.setattr("logger.microphone.device._LOOK_EVERY_S", 0.01)
    device = Replugged(48000.0)
    before = replace(facts(), name="USB microphone: Audio (hw:1,0)")
    device.named("USB microphone: Audio (hw:2,0)")
    with Microphone(device.audio, before, (1, 2)):
        for _ in range(2):
            assert device.tries.acquire(timeout=10.0)
    device.named("USB camera: Audio (hw:1,0)")
    with Microphone(device.audio, before, (1, 2)):
        assert device.tries.acquire(timeout=10.0)
        assert not device.tries.acquire(timeout=0.2)


class Silent:
    """A stand-in for PortAudio whose microphone gives nothing by itself, and its clock."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.audio = fake_portaudio()
        self.opened = threading.Semaphore(0)
        self.now_s = 100.0
        monkeypatch.setattr(FakeStream, "start", lambda stream: self.opened.release())
        monkeypatch.setattr("logger.microphone.device._LOOK_EVERY_S", 0.01)
        monkeypatch.setattr("logger.microphone.device._OVERSLEPT_S", math.inf)
        monkeypatch.setattr("logger.microphone.device.time.perf_counter", lambda: self.now_s)


def test_microphone_gets_time_for_its_first_block_whenever_it_is_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    device = Silent(monkeypatch)
    with Microphone(device.audio, facts(), (1, 2)) as microphone:
        assert device.opened.acquire(timeout=10.0)
        device.now_s += 3.1
        assert device.opened.acquire(timeout=10.0)
        device.now_s += 2.5
        assert not device.opened.acquire(timeout=0.3)
        microphone.take(np.zeros((BLOCK, 2), dtype=np.float32))
        block = microphone.next_block()
    assert block is not None
    assert block.arrived_s == device.now_s


@pytest.mark.parametrize(
    "error",
    [
        PortAudioError("no"),
        OSError("no"),
        RuntimeError("no"),
        ValueError("no"),
        IndexError("no"),
    ],
)
@pytest.mark.parametrize("call", ["_terminate", "_initialize", "query_devices", "InputStream"])
def test_whatever_fails_while_reopening_is_tried_again(
    monkeypatch: pytest.MonkeyPatch, call: str, error: Exception
) -> None:
    device = Silent(monkeypatch)
    whole = getattr(device.audio, call)
    failures = iter([error])

    def fails_at_first(**options: Any) -> Any:
        failure = next(failures, None)
        if failure is not None:
            raise failure
        return whole(**options)

    with Microphone(device.audio, facts(), (1, 2)):
        assert device.opened.acquire(timeout=10.0)
        setattr(device.audio, call, fails_at_first)
        device.now_s += 3.1
        assert device.opened.acquire(timeout=10.0)
    assert next(failures, None) is None


def test_library_that_could_not_start_is_not_asked_to_end_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # PortAudio refuses Pa_Terminate after a Pa_Initialize that failed (paNotInitialized).
    device = Silent(monkeypatch)
    runs = [True]
    refusals = iter([True, True])

    def terminate() -> None:
        if not runs:
            raise PortAudioError("PortAudio not initialized")
        runs.clear()

    def initialize() -> None:
        if next(refusals, False):
            raise PortAudioError("no sound server")
        runs.append(True)

    vars(device.audio).update(_terminate=terminate, _initialize=initialize)
    with Microphone(device.audio, facts(), (1, 2)):
        assert device.opened.acquire(timeout=10.0)
        device.now_s += 3.1
        assert device.opened.acquire(timeout=10.0)


def test_lost_sound_that_the_driver_flags_is_passed_on_once() -> None:
    flags = SimpleNamespace(input_overflow=True)
    with Microphone(fake_portaudio(), facts(), (1,)) as microphone:
        assert microphone.next_block() is not None
        for flagged in (None, flags, None, None):
            microphone.take(np.zeros((BLOCK // 2, 2), dtype=np.float32), BLOCK // 2, None, flagged)
        blocks = [microphone.next_block(), microphone.next_block()]
    assert [block is not None and block.is_flagged for block in blocks] == [True, False]


def test_windows_may_convert_the_rate() -> None:
    audio = fake_portaudio()
    streams: list[dict[str, object]] = []

    def open_stream(**options: Any) -> FakeStream:
        streams.append(options)
        return FakeStream(**options)

    vars(audio).update(
        query_hostapis=lambda: [{"name": "Windows WASAPI", "default_input_device": 2}],
        WasapiSettings=lambda **options: options,
        InputStream=open_stream,
    )
    with Microphone(audio, list_microphones(audio)[1], (1,)):
        pass
    assert [options["extra_settings"] for options in streams] == [{"auto_convert": True}]


@pytest.mark.parametrize(
    ("host", "name", "other"),
    [
        ("Windows WASAPI", "Microphone (USB Audio Device)", "Microphone (2- USB Audio Device)"),
        ("MME", "Microphone (3- USB Audio Devi", "Microphone (12- USB Audio Devi"),
        ("Windows WASAPI", "2- USB Audio Device", "USB Audio Device"),
        ("ALSA", "USB Audio: - (hw:1,0)", "USB Audio: - (hw:2,0)"),
    ],
)
def test_a_microphone_in_another_socket_keeps_its_lasting_name(
    host: str, name: str, other: str
) -> None:
    one = replace(facts(), host=host, name=name)
    assert lasting_name(one) == lasting_name(replace(one, name=other))
    assert lasting_name(one) != lasting_name(replace(one, name="Headset"))
    assert lasting_name(one) != lasting_name(replace(one, host="other"))


def test_a_number_that_belongs_to_the_name_stays() -> None:
    one = replace(facts(), host="ALSA", name="2- way microphone")
    assert lasting_name(one)[0] == "2- way microphone"
