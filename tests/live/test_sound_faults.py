"""Faults of sound and of the computer while a drive is recorded with real parts."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.live.faults import NAMED_AFTER_S, SOUND_FAULTS, Scene, SoundFault, live_through
from tests.live.in_step import Signals
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until
from tests.logger.sources.talkers import PtyAdapter, needs_pty

pytestmark = needs_pty

# One chunk of the sound server, by which a stream that is opened anew may lie otherwise. Of 64
# faults on a machine with far more to do than it could, 63 were within 10 ms, and one 80 ms off.
LATE_WITHIN_S = 0.046
TRIED = [
    fault
    for fault in SOUND_FAULTS
    if fault.name in ("server frozen", "unplugged", "other microphone")
]
HANGS_S = 4.0  # more after it was noticed: long enough that the recorder has tried again
ASLEEP_S = 7.0


@pytest.fixture
def adapter() -> Iterator[PtyAdapter]:
    with PtyAdapter(rpm_at=lambda now_s: 2000.0, latency_s=0.05) as adapter:
        yield adapter


@pytest.fixture
def recording(
    tmp_path: Path, sound_server: SoundServer, card: SoundCard, adapter: PtyAdapter
) -> Iterator[Recording]:
    rpm = ("--rpm", f"obd:{adapter.path}")
    with Recording(tmp_path / "drive", card.name, sound_server.environment, *rpm) as recording:
        wait_until(lambda: any(asked.rpm for asked in adapter.log), recording.said)
        recording.wait_for_sound()
        yield recording


def longest_without_rpm_s(recording: Recording) -> float:
    return float(recording.rpm_rows()["time_s"].diff().max())


@pytest.mark.parametrize("fault", TRIED, ids=lambda fault: fault.name)
def test_fault_is_told_and_time_stays_right(
    fault: SoundFault, recording: Recording, sound_server: SoundServer, card: SoundCard
) -> None:
    signals = Signals(recording)
    scene = Scene(sound_server, card, recording)
    assert live_through(fault, scene, signals, goes_on_s=1.0), recording.trouble()
    print(recording.document()["sound_gaps"], recording.document()["trouble"], signals.late_s())
    assert abs(signals.late_s()) < LATE_WITHIN_S
    assert longest_without_rpm_s(recording) < 1.0
    assert "Expression" not in recording.said()  # PortAudio's own words


def test_length_of_a_gap_is_that_of_its_trouble(recording: Recording, card: SoundCard) -> None:
    card.unplug()
    wait_until(lambda: "microphone_lost" in recording.trouble(), recording.said)
    card.plug_in(48000)
    recording.wait_for_sound()
    recording.stop()
    (gap,) = recording.document()["sound_gaps"]
    lost, *refused = recording.document()["trouble"]
    assert lost["code"] == "microphone_lost"
    assert {one["code"] for one in refused} <= {"microphone_refused"}  # tried before it was back
    away_s = sum(one["duration_s"] for one in (lost, *refused))
    assert away_s == pytest.approx(gap["duration_s"], abs=LATE_WITHIN_S)


def test_sound_system_that_hangs_for_good(recording: Recording, sound_server: SoundServer) -> None:
    sound_server.stand_still()
    try:
        wait_until(lambda: "microphone_lost" in recording.trouble(), recording.said)
        threading.Event().wait(HANGS_S)
        recording.stop()
    finally:
        sound_server.go_on()
    assert recording.document()["state"] == "complete"
    assert recording.process.returncode == 3
    assert str(recording.out) in recording.said()


def test_laptop_that_sleeps(recording: Recording, card: SoundCard) -> None:
    signals = Signals(recording)
    signals.play(card)
    recording.process.send_signal(signal.SIGSTOP)
    threading.Event().wait(ASLEEP_S)
    recording.process.send_signal(signal.SIGCONT)
    recording.wait_for_sound()
    signals.play(card)
    recording.stop()
    print(recording.document()["sound_gaps"], recording.document()["trouble"], signals.late_s())
    # a sound server may keep the sound meanwhile; then nothing is lost
    assert "stood_still" in recording.trouble()
    assert set(recording.trouble()) <= {"stood_still", "sound_lost"}
    assert abs(signals.late_s()) < LATE_WITHIN_S


def test_adapter_unplugged_and_plugged_in_again(
    recording: Recording, card: SoundCard, adapter: PtyAdapter
) -> None:
    signals = Signals(recording)
    signals.play(card)
    adapter.unplug()
    wait_until(lambda: recording.trouble() != [], recording.said)
    adapter.replug()
    already = len(adapter.log)
    wait_until(lambda: any(asked.rpm for asked in adapter.log[already:]), recording.said)
    signals.play(card)
    recording.stop()
    document = recording.document()
    print(document["trouble"], signals.late_s(), longest_without_rpm_s(recording))
    assert document["sound_gaps"] == []
    assert abs(signals.late_s()) < 0.001
    (trouble,) = document["trouble"]
    assert trouble["code"] == "telemetry_lost"
    assert trouble["duration_s"] == pytest.approx(longest_without_rpm_s(recording), abs=1.0)
    assert recording.rpm_rows()["time_s"].iloc[-1] > signals.played_s[1] - signals.played_s[0]


def test_change_of_microphone_names_both(
    recording: Recording, sound_server: SoundServer, card: SoundCard, loudspeaker: str
) -> None:
    recording.wait_for_sound(NAMED_AFTER_S)
    Scene(sound_server, card, recording).move_to(f"{loudspeaker}.monitor")
    wait_until(lambda: "microphone_changed" in recording.trouble(), recording.said)
    recording.stop()
    told = {one["code"]: one["message"] for one in recording.document()["trouble"]}
    assert (
        f"from {loudspeaker}.monitor and no longer from {card.name}" in (told["microphone_changed"])
    )
