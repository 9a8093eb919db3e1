"""SIGKILL at a random moment: how much sound is lost, does the session open, does ``find`` answer?

What the sound card plays is known to the sample, so the last sample on the disk says by itself when
it was heard; all from there to the kill is lost, the sound system's own delay included.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from functools import cache
from pathlib import Path

import numpy as np
from scipy.signal import correlate

from tests.benchmarks.recorder_faults.outcome import Outcome, broken, wrong_count
from tests.drives import DriveSpec, GeneratedDrive, Leg, generate
from tests.live.faults import MICROPHONE, NAMES, RATE_HZ
from tests.live.recording import ROOT, Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import LONG_S
from tests.logger.sources.talkers import PtyAdapter

AT_ONCE = 5
MOST_LOST_S = 0.2
_FOUND_FROM_S = 4.0  # of sound and engine speed together
_KILLED_AFTER_S = (0.1, 9.0)
_FIRST_S = 0.2
_DRIVE_S = 60.0
_ANSWER_S = 0.02


@cache
def _drive() -> GeneratedDrive:
    legs = (Leg(duration_s=_DRIVE_S, end_rpm=3300.0, gear=3),)
    return generate(DriveSpec(sample_rate_hz=RATE_HZ, start_rpm=1200.0, legs=legs), 3)


def kill(first: int) -> list[Outcome]:
    """Record the same drive a few times at once, and kill each at its own moment.

    What goes wrong on the way is a fault of each of them.
    """
    try:
        return _killed(first)
    except Exception as error:
        return [broken("killed", first + at, error) for at in range(AT_ONCE)]


def _killed(first: int) -> list[Outcome]:
    rng, drive = np.random.default_rng([23, first]), _drive()
    start_s = np.inf

    def rpm_at(now_s: float) -> float:
        return float(np.interp(now_s - start_s, drive.truth.time_s, drive.truth.rpm))

    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="kills")))
        server = stack.enter_context(SoundServer(folder, NAMES))
        card = stack.enter_context(SoundCard(server, MICROPHONE, RATE_HZ))
        start_s = card.play(drive.samples)
        recordings = []
        for number in range(AT_ONCE):
            adapter = stack.enter_context(PtyAdapter(rpm_at=rpm_at, latency_s=_ANSWER_S))
            rpm = ("--rpm", f"obd:{adapter.path}")
            out = folder / f"drive {number}"
            recording = Recording(out, MICROPHONE, server.environment, *rpm)
            recordings.append(stack.enter_context(recording))
        for recording in recordings:
            recording.wait_for_sound(_FIRST_S)
        after_s = np.sort(rng.uniform(*_KILLED_AFTER_S, AT_ONCE)) + time.perf_counter()
        outcomes = []
        for moment_s, recording in zip(after_s, recordings, strict=True):
            threading.Event().wait(max(0.0, moment_s - time.perf_counter()))
            recording.process.kill()
            killed_s = time.perf_counter() - start_s
            outcomes.append((recording, killed_s))
        return [
            _judged(first + at, recording, killed_s, drive)
            for at, (recording, killed_s) in enumerate(outcomes)
        ]


def _judged(number: int, recording: Recording, killed_s: float, drive: GeneratedDrive) -> Outcome:
    """Lay what is left beside the drive; ``killed_s`` is on the drive's clock."""
    sound, rate_hz = recording.sound()  # raises where it does not open
    alike = correlate(drive.samples, sound, mode="valid", method="fft")
    began_s = float(np.argmax(alike)) / rate_hz
    lost_s = killed_s - (began_s + sound.size / rate_hz)
    rows = recording.rpm_rows()
    true_rpm = np.asarray(
        np.interp(rows["time_s"] + began_s, drive.truth.time_s, drive.truth.rpm), dtype=np.float64
    )
    common_s = sound.size / rate_hz - float(rows["time_s"].min()) if len(rows) else 0.0
    faults = (
        f"{1e3 * lost_s:.0f} ms are lost" if lost_s > MOST_LOST_S else "",
        _find(recording.out) if common_s > _FOUND_FROM_S else "",
    )
    return Outcome(
        kind="killed",
        number=number,
        told=True,
        late_s=lost_s,
        rows=true_rpm.size,
        wrong=wrong_count(rows["rpm"].to_numpy(), true_rpm),
        fault="; ".join(fault for fault in faults if fault),
    )


def _find(session: Path) -> str:
    """Give what ``find`` complains of; empty when it answers."""
    done = subprocess.run(
        [sys.executable, "-m", "pipenote", "find", str(session)],
        cwd=ROOT,
        timeout=2.0 * LONG_S,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stderr if done.returncode else ""
