"""Which device is behind a name that may stand for any."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import os
import subprocess
from dataclasses import replace

import pytest

from logger.microphone.behind import is_stand_in, sound_behind
from logger.microphone.calibration import calibration_from, check_fit
from logger.microphone.calibrator_tone import CalibrationError, Tone
from tests.logger.microphone.test_calibration import GOOD, MICROPHONE

USB, BUILT_IN = "alsa_input.usb-measuring_mic-00.mono", "alsa_input.pci-0000_00.analog-stereo"
DEFAULT = replace(MICROPHONE, name="default")


def tells(monkeypatch: pytest.MonkeyPatch, outputs: object, sources: object) -> None:
    """Let the sound server's tool say this, in the shape of version 16."""
    answers = {"source-outputs": outputs, "sources": sources}

    def run(words: list[str], **_: object) -> subprocess.CompletedProcess[bytes]:
        answer = answers[words[-1]]
        if isinstance(answer, Exception):
            raise answer
        return subprocess.CompletedProcess(words, 0, stdout=json.dumps(answer).encode())

    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr("shutil.which", lambda _: "/usr/bin/pactl")
    monkeypatch.setattr("subprocess.run", run)


def output(source: int, process: int) -> dict[str, object]:
    return {"source": source, "properties": {"application.process.id": str(process)}}


SOURCES = [{"index": 3, "name": BUILT_IN}, {"index": 7, "name": USB}]


def test_the_device_that_this_program_records_from_is_named(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tells(monkeypatch, [output(3, 1), output(7, os.getpid())], SOURCES)
    assert sound_behind() == USB


@pytest.mark.parametrize(
    ("outputs", "sources"),
    [
        ([], SOURCES),
        ([output(3, 1)], SOURCES),
        ([output(3, os.getpid()), output(7, os.getpid())], SOURCES),
        ("nonsense", SOURCES),
        ([output(3, os.getpid()), None, {"properties": 5}], [None]),
        (subprocess.TimeoutExpired("pactl", 1.0), SOURCES),
        (OSError(), SOURCES),
    ],
)
def test_where_it_cannot_be_told_nothing_is(
    monkeypatch: pytest.MonkeyPatch, outputs: object, sources: object
) -> None:
    tells(monkeypatch, outputs, sources)
    assert sound_behind() == ""


def test_a_calibration_of_a_stand_in_names_the_device_behind_it() -> None:
    tone = Tone(frequency_hz=1000.0, amplitude=0.1, spread_db=0.01, over_rest_db=40.0, column=0)

    def made(behind: str) -> str:
        return calibration_from(
            tone, calibrator_db=94.0, microphone=DEFAULT, channel=1, behind=behind
        ).behind

    assert made(USB) == USB
    with pytest.raises(CalibrationError, match="choose a microphone by its own name"):
        made("")


def test_a_calibration_fits_the_device_that_was_really_open() -> None:
    of_usb = replace(GOOD, microphone="default", behind=USB)
    check_fit(of_usb, DEFAULT, (1,), USB)
    with pytest.raises(CalibrationError, match=f"is of {USB}, but 'default' stands for {BUILT_IN}"):
        check_fit(of_usb, DEFAULT, (1,), BUILT_IN)
    with pytest.raises(CalibrationError, match="stands for nobody knows which now"):
        check_fit(of_usb, DEFAULT, (1,), "")
    with pytest.raises(CalibrationError, match="is of nobody knows which microphone"):
        check_fit(replace(GOOD, microphone="default"), DEFAULT, (1,), USB)  # from before
    check_fit(GOOD, MICROPHONE, (1,), "")


def test_names_that_stand_for_any_device() -> None:
    assert is_stand_in("default")
    assert is_stand_in("Microsoft Sound Mapper - Input")
    assert not is_stand_in(MICROPHONE.name)
