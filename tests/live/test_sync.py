"""Sound and rpm of the same instant, through PulseAudio, PortAudio, a terminal and python-OBD.

The promise: they differ by less than 25 ms plus half the adapter's answer
time. The rpm of the drive only rises, so each recorded rpm says by itself when it was true, and
the recorded sound says where in the session the drive began. Both truths are on one clock, and no
step depends on how busy the machine is.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from scipy.signal import correlate
from scipy.stats import median_abs_deviation

from tests.drives import DriveSpec, GeneratedDrive, Leg, TelemetrySpec, generate
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until
from tests.logger.sources.talkers import PtyAdapter, needs_pty

WITHIN_S = 0.025
SPREAD_WITHIN_S = 0.010
ANSWER_S = 0.02
LOW_RPM, HIGH_RPM = 1000.0, 3500.0


def rising_drive(rate_hz: int) -> GeneratedDrive:
    legs = (
        Leg(duration_s=1.0, end_rpm=LOW_RPM, gear=3),
        Leg(duration_s=14.0, end_rpm=HIGH_RPM, gear=3),
        Leg(duration_s=1.0, end_rpm=HIGH_RPM, gear=3),
    )
    spec = DriveSpec(
        sample_rate_hz=rate_hz,
        start_rpm=LOW_RPM,
        legs=legs,
        sweep_wobble=0.0,
        speed_flutter_rpm=0.0,
        telemetry=TelemetrySpec(),
    )
    return generate(spec, 3)


@needs_pty
def test_sound_and_rpm_are_in_step(
    tmp_path: Path, sound_server: SoundServer, card: SoundCard
) -> None:
    drive = rising_drive(card.rate_hz)
    truth = drive.truth
    start_s = np.inf  # of the drive, on the clock of the computer

    def rpm_at(now_s: float) -> float:
        return float(np.interp(now_s - start_s, truth.time_s, truth.rpm))

    with (
        PtyAdapter(rpm_at=rpm_at, latency_s=ANSWER_S) as adapter,
        Recording(
            tmp_path / "drive", card.name, sound_server.environment, "--rpm", f"obd:{adapter.path}"
        ) as recording,
    ):
        wait_until(lambda: any(asked.rpm is not None for asked in adapter.log), recording.said)
        recording.wait_for_sound()
        start_s = card.play(drive.samples)
        wait_until(lambda: time.perf_counter() > start_s + drive.spec.duration_s + 0.5)
        recording.stop()

    began_s = began_in(recording, drive)
    rows = recording.rpm_rows()
    rows = rows[(rows["rpm"] > LOW_RPM + 100.0) & (rows["rpm"] < HIGH_RPM - 100.0)]
    assert len(rows) > 100
    true_s = began_s + np.interp(rows["rpm"], truth.rpm, truth.time_s)
    late_s = rows["time_s"].to_numpy() - true_s
    half_answer_s = rows["half_round_trip_s"].to_numpy()
    spread_s = median_abs_deviation(late_s, scale="normal")
    print(
        f"{late_s.size} rows late by {1e3 * late_s.mean():.1f} ms, spread {1e3 * spread_s:.2f} ms, "
        f"from {1e3 * late_s.min():.1f} to {1e3 * late_s.max():.1f} ms; half the answer took "
        f"{1e3 * np.median(half_answer_s):.1f} ms"
    )
    assert abs(late_s.mean()) < WITHIN_S
    assert spread_s < SPREAD_WITHIN_S
    assert (np.abs(late_s) < WITHIN_S + half_answer_s).all()


def began_in(recording: Recording, drive: GeneratedDrive) -> float:
    """Session time at which the drive began, where the recorded sound is most like the drive's."""
    recorded, rate_hz = recording.sound()
    assert rate_hz == drive.sample_rate_hz
    alike = correlate(recorded, drive.samples, mode="valid", method="fft")
    return float(np.argmax(alike)) / rate_hz
