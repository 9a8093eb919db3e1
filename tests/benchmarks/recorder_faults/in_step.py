"""Whether sound and rpm stay in step over a whole drive: how late, and is a drift made up?

    python -m tests.benchmarks.recorder_faults.in_step [--seconds S ...] [--each N] [--first N]

Real recordings through PulseAudio, PortAudio and python-OBD, of sound cards whose clocks are off by
a known amount (Linux). Each third one is true, the others are off by up to 100 parts per million.
Noises that are played at the beginning, in the middle and at the end say where in the sound a
moment of the computer is. The engine's speed rises and falls evenly, so each row says when it was
true. A line of the table is one length of drive: by how much a noise lies beside its place, counted
from the first one; by how much the median row lies beside the sound, and the worst row beyond half
of its own question and answer; the drift that the recorder took out less the true one, at worst,
and of true cards alone.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import multiprocessing
import tempfile
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from logger.session import read_session
from tests.live.faults import MICROPHONE, NAMES, RATE_HZ
from tests.live.in_step import Signals
from tests.live.recording import Recording
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.live.waiting import wait_until
from tests.logger.sources.talkers import PtyAdapter

_ANSWER_S = 0.02
_LOW_RPM, _HIGH_RPM, _SLOPE_RPM_PER_S = 1000.0, 3000.0, 40.0
_TURN_RPM = 40.0  # nearer to a turn, a speed does not say when it was
_MOST_OFF_PPM = 100.0  # of ordinary sound cards; common practice, no source
_NOISE_S = 3.0  # of one, and what it takes to be heard
_BEGINS_S = 120.0  # many start at once
_UNTOLD = float("nan")
_WIDTHS = (8, 8, 8, 10, 10, 10, 14, 14)


@dataclass(frozen=True, slots=True, kw_only=True)
class InStep:
    """One drive: errors in s and parts per million; ``taken_ppm`` is None where none was."""

    seconds: float
    true_ppm: float
    taken_ppm: float | None
    sound_s: float
    median_s: float
    worst_s: float
    row_count: int

    @property
    def made_up_ppm(self) -> float:
        """What was taken out beside the true drift; not what was left in."""
        return _UNTOLD if self.taken_ppm is None else self.taken_ppm - self.true_ppm


def main() -> None:
    """Record, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, nargs="+", default=[600.0, 180.0, 60.0])
    parser.add_argument("--each", type=int, default=6, help="drives of each length")
    parser.add_argument("--first", type=int, default=0, help="number of the first of each")
    parser.add_argument("--jobs", type=int, default=6, help="recordings at once")
    wanted = parser.parse_args()
    numbers = range(wanted.first, wanted.first + wanted.each)
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(wanted.jobs, mp_context=context) as pool:
        drives = []
        for drive in pool.map(_drive, *zip(*product(wanted.seconds, numbers), strict=True)):
            print(drive, flush=True)
            drives.append(drive)
    heads = ("drive", "drives", "rows", "sound", "median", "worst", "drift", "of none")
    print("".join(head.rjust(width) for head, width in zip(heads, _WIDTHS, strict=True)))
    for seconds in wanted.seconds:
        of_length = [drive for drive in drives if drive.seconds == seconds]
        true_ones = [drive for drive in of_length if drive.true_ppm == 0.0]
        print(
            f"{seconds:6.0f} s{len(of_length):8}{sum(drive.row_count for drive in of_length):8}"
            f"{1e3 * max(drive.sound_s for drive in of_length):7.1f} ms"
            f"{1e3 * max(abs(drive.median_s) for drive in of_length):7.1f} ms"
            f"{1e3 * max(drive.worst_s for drive in of_length):7.1f} ms"
            f"{_worst_ppm(of_length):>14}{_worst_ppm(true_ones):>14}"
        )


def _worst_ppm(drives: list[InStep]) -> str:
    off_ppm = [abs(drive.made_up_ppm) for drive in drives if drive.taken_ppm is not None]
    return f"{max(off_ppm):.0f} ppm in {len(off_ppm)}" if off_ppm else "none"


def _rpm_at(now_s: float) -> float:
    span_rpm = _HIGH_RPM - _LOW_RPM
    way_rpm = _SLOPE_RPM_PER_S * now_s % (2.0 * span_rpm)
    return _LOW_RPM + min(way_rpm, 2.0 * span_rpm - way_rpm)


def _drive(seconds: float, number: int) -> InStep:
    rng = np.random.default_rng([29, round(seconds), number])
    true_ppm = 0.0 if number % 3 == 0 else round(rng.uniform(-_MOST_OFF_PPM, _MOST_OFF_PPM), 1)
    with (
        tempfile.TemporaryDirectory(prefix="step") as name,
        SoundServer(Path(name), NAMES) as server,
        SoundCard(server, MICROPHONE, RATE_HZ, fast_ppm=true_ppm) as card,
        PtyAdapter(rpm_at=_rpm_at, latency_s=_ANSWER_S) as adapter,
    ):
        options = ("--rpm", f"obd:{adapter.path}", f"--seconds={2.0 * seconds}")
        with Recording(Path(name) / "drive", MICROPHONE, server.environment, *options) as recording:
            wait_until(lambda: any(asked.rpm for asked in adapter.log), recording.said, _BEGINS_S)
            recording.wait_for_sound()
            signals, began_s = Signals(recording), time.perf_counter()
            for part in (0.0, 0.5, 1.0):
                due_s = began_s + part * (seconds - _NOISE_S)
                threading.Event().wait(max(0.0, due_s - time.perf_counter()))
                signals.play(card)
            recording.stop()
        return _judged(seconds, true_ppm, recording, signals)


def _judged(seconds: float, true_ppm: float, recording: Recording, signals: Signals) -> InStep:
    rows = recording.rpm_rows()
    played_s, places_s = np.array(signals.played_s), np.array(signals.places_s())
    pace, start_s = np.polyfit(played_s, places_s, 1)
    true_s = places_s[0] + (played_s - played_s[0]) * (1.0 + 1e-6 * true_ppm)
    at_s = (rows["time_s"].to_numpy() - start_s) / pace  # on the clock of the computer
    late_s = _late_s(at_s, rows["rpm"].to_numpy())
    is_clear = np.isfinite(late_s)
    beyond_s = np.abs(late_s[is_clear]) - rows["half_round_trip_s"].to_numpy()[is_clear]
    return InStep(
        seconds=seconds,
        true_ppm=true_ppm,
        taken_ppm=read_session(recording.out).metadata.sound_fast_ppm,
        sound_s=float(np.abs(places_s - true_s).max()),
        median_s=float(np.median(late_s[is_clear])),
        worst_s=float(max(beyond_s.max(), 0.0)),
        row_count=int(is_clear.sum()),
    )


def _late_s(at_s: NDArray[np.float64], rpm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much later than it was true each row stands; NaN near the turns."""
    true_rpm = np.array([_rpm_at(now_s) for now_s in at_s])
    rises = np.array([_rpm_at(now_s + 0.1) > _rpm_at(now_s) for now_s in at_s])
    is_near = (true_rpm < _LOW_RPM + _TURN_RPM) | (true_rpm > _HIGH_RPM - _TURN_RPM)
    late_s = np.where(rises, true_rpm - rpm, rpm - true_rpm) / _SLOPE_RPM_PER_S
    return np.asarray(np.where(is_near, np.nan, late_s))


if __name__ == "__main__":
    main()
