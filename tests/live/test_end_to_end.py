"""A whole drive through real parts, and the drone that ``find`` finds in it."""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import json
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.drives import GeneratedDrive, Leg, generate
from tests.drives.make_recorded_sessions import BASELINE
from tests.live.recording import ROOT, Recording
from tests.live.sound_server import SoundServer
from tests.live.waiting import LONG_S, wait_until
from tests.logger.sources.obd.elm import car, frame
from tests.logger.sources.talkers import PtyAdapter, needs_pty

PEAK_WITHIN = 0.01
ANSWER_S = 0.02
SEED = 1
LEGS = (
    Leg(duration_s=1.0, end_rpm=1200.0, gear=3, load=0.6),
    Leg(duration_s=12.0, end_rpm=3300.0, gear=3),
    Leg(duration_s=12.0, end_rpm=1250.0, gear=3, load=0.8),
    Leg(duration_s=1.5, end_rpm=1250.0, gear=4, load=0.6),
    Leg(duration_s=15.0, end_rpm=3300.0, gear=4),
)
FOURTH_GEAR_S = sum(leg.duration_s for leg in LEGS if leg.gear == 3)


@needs_pty
def test_recorded_drive_gives_its_true_band(
    tmp_path: Path, sound_server: SoundServer, loudspeaker: str
) -> None:
    spec = replace(BASELINE, start_rpm=1200.0, legs=LEGS)
    drive = generate(spec, SEED)
    (tmp_path / "drive.s16").write_bytes(np.round(32767.0 * drive.samples).astype("<i2").tobytes())
    start_s = np.inf

    def rpm_at(now_s: float) -> float:
        return float(np.interp(now_s - start_s, drive.truth.time_s, drive.truth.rpm))

    def answer(question: bytes) -> bytes | None:
        """The road speed is that of the drive too: SAE J1979, whole km/h."""
        if question[:4] != b"010D":
            return car(question)
        now_s = time.perf_counter()
        gear = 3 if now_s - start_s < FOURTH_GEAR_S else 4
        return frame(f"41 0D {round(3.6 * spec.gearing.speed_m_s(rpm_at(now_s), gear)):02X}")

    with (
        PtyAdapter(rpm_at=rpm_at, latency_s=ANSWER_S) as adapter,
        Recording(
            tmp_path / "out", loudspeaker, sound_server.environment, "--rpm", f"obd:{adapter.path}"
        ) as recording,
    ):
        adapter.elm.answer = answer
        wait_until(lambda: any(asked.rpm is not None for asked in adapter.log), recording.said)
        recording.wait_for_sound()
        start_s = time.perf_counter()
        play(sound_server, loudspeaker, tmp_path / "drive.s16", drive)
        said = recording.stop()
    assert str(tmp_path / "out") in said
    # a loudspeaker's monitor is exact zero before and after the drive is played
    assert set(recording.trouble()) <= {"no_signal"}

    truth = drive.truth.bands[0]
    found = find(tmp_path / "out")
    worst = found["drone_bands"][0]
    print(
        f"{worst['peak_hz']:.2f} Hz, {100.0 * (worst['peak_hz'] / truth.peak_hz - 1.0):+.2f} %, "
        f"{len(recording.rpm_rows())} rpm rows, delay {found['telemetry_delay_s']} s, "
        f"{recording.seconds():.1f} s, {found['warnings']}"
    )
    assert worst["engine_order"] == truth.engine_order
    assert worst["peak_hz"] == pytest.approx(truth.peak_hz, rel=PEAK_WITHIN)
    assert worst["locked_to"] == "engine"


def play(server: SoundServer, sink: str, path: Path, drive: GeneratedDrive) -> None:
    sound = ["--raw", "--format=s16le", "--channels=1", f"--rate={drive.sample_rate_hz:.0f}"]
    subprocess.run(
        ["pacat", "--playback", f"--device={sink}", "--latency-msec=50", *sound, str(path)],
        env=server.environment,
        timeout=drive.spec.duration_s + LONG_S,
        check=True,
    )


def find(session: Path) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "pipenote", "find", str(session), "--json"],
        cwd=ROOT,
        timeout=2.0 * LONG_S,
        capture_output=True,
        check=True,
    )
    document: dict[str, Any] = json.loads(done.stdout)
    return document
