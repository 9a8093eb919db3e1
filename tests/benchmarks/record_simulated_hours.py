"""Hours of recording on a fast clock: python -m tests.benchmarks.record_simulated_hours [hours].

The recorder is the real one; sound and readings come as fast as it takes them, and say what time it
is. The sound counts its own frames, so that every sample can be checked when it is read back. Eight
hours make 8.3 GB in a temporary folder (say where with --scratch), removed in the end.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from logger.microphone.contract import SoundBlock
from logger.recording.clock_watch import Clocks
from logger.recording.recorder import Controls, record_drive
from logger.recording.status import Status
from logger.session import Session, SessionMetadata, read_session
from logger.sources.contract import Reading, SourceTrouble

RATE_HZ = 48_000
CHANNELS = 2
BLOCK = 1440  # frames
READINGS_PER_S = 50
_RAMP = 1 << 20  # a whole number of steps of 24 bits
_AHEAD_S = 0.5  # sound waits when the readings are further behind
_FLAP_S = 20.0  # a trouble of the source each so many seconds


class FastTime:
    """Time of the recording: as much as there was sound."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.read_s = 0.0
        self._moved = threading.Condition()

    def __call__(self) -> float:
        return self.now_s

    def all(self) -> Clocks:
        """Every clock of the computer, in step."""
        return Clocks(perf_s=self.now_s, awake_or_asleep_s=self.now_s, wall_s=self.now_s)

    def sound_until(self, now_s: float) -> None:
        """Go on, unless the readings would be left behind."""
        with self._moved:
            self._moved.wait_for(lambda: self.read_s > now_s - _AHEAD_S, timeout=30.0)
            self.now_s = now_s
            self._moved.notify_all()

    def read_until(self, due_s: float, timeout_s: float) -> bool:
        """Wait until a reading is due."""
        with self._moved:
            self.read_s = due_s
            self._moved.notify_all()
            return self._moved.wait_for(lambda: self.now_s >= due_s, timeout=timeout_s)


def counted(first: int, count: int) -> NDArray[np.float32]:
    """Samples that say which frame they are [shape=(count, CHANNELS)]."""
    frames = (np.arange(first, first + count) % _RAMP).astype(np.float32) / np.float32(_RAMP)
    return np.stack([frames, -frames], axis=1)


class CountedSound:
    """Sound that says which frame it is."""

    name = "counted"
    sample_rate_hz = RATE_HZ
    channel_count = CHANNELS
    refusal = ""

    def __init__(self, clock: FastTime) -> None:
        self.given = 0
        self._clock = clock

    def __enter__(self) -> CountedSound:
        return self

    def __exit__(self, *_: object) -> None:
        return

    def next_block(self) -> SoundBlock | None:
        """At once."""
        block = counted(self.given, BLOCK)
        self.given += BLOCK
        self._clock.sound_until(self.given / RATE_HZ)
        return SoundBlock(samples=block, arrived_s=self._clock.now_s)


class CountedReadings:
    """Rpm that counts up; now and then a trouble."""

    name = "counted"

    def __init__(self, clock: FastTime) -> None:
        self.given = 0
        self._clock = clock
        self._flapped = 0

    def read(self, timeout_s: float) -> Reading | SourceTrouble | None:
        """Wait until the next one is due."""
        due_s = self.given / READINGS_PER_S
        if not self._clock.read_until(due_s, timeout_s):
            return None
        if due_s > _FLAP_S * (self._flapped + 1):
            self._flapped += 1
            return SourceTrouble(code="source_lost", message="it came loose", at_s=due_s)
        self.given += 1
        value = 1000.0 + self.given % 4000
        return Reading(quantity="rpm", value=value, request_s=due_s, reply_s=due_s)

    def close(self) -> None:
        """Nothing to close."""


def memory_mb() -> float:
    """Memory of this process now."""
    status = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024.0 for line in status if line.startswith("VmRSS"))


def record(hours: float, out: Path) -> tuple[CountedSound, CountedReadings]:
    """Record and print a line each simulated hour."""
    clock = FastTime()
    sound, readings = CountedSound(clock), CountedReadings(clock)
    began_s = time.monotonic()
    told = [0]

    def show(status: Status) -> None:
        if status.elapsed_s >= 3600.0 * told[0] + 60.0:
            spent_s = time.monotonic() - began_s
            print(
                f"{status.elapsed_s / 3600.0:6.2f} h: {memory_mb():6.1f} MB, "
                f"{spent_s:7.1f} s of our time",
                flush=True,
            )
            told[0] += 1

    record_drive(
        sound,
        (readings,),
        out,
        SessionMetadata(name="hours", cylinders=6),
        Controls(
            seconds=3600.0 * hours,
            stopped=lambda: False,
            mark_asked=lambda: False,
            show=show,
            clock=clock,
            read_clocks=clock.all,
        ),
    )
    print(f"   end: {memory_mb():6.1f} MB, {time.monotonic() - began_s:7.1f} s of our time")
    return sound, readings


def check(session: Session, hours: float, readings: CountedReadings) -> None:
    """Every sample and every reading, read back."""
    frames = round(3600.0 * hours * RATE_HZ)
    size_gb = sum(file.stat().st_size for file in session.audio_files) / 1e9
    print(f"{session.frame_count} frames of {frames} in {len(session.audio_files)} files, ", end="")
    print(f"{size_gb:.2f} GB")
    sound = session.drive().sound
    assert sound is not None
    at = wrong = 0
    for block in sound.read_blocks():
        expected = counted(at, block.size)[:, 0]
        wrong += int(np.count_nonzero(np.abs(block - expected) > 2.0**-23))
        at += block.size
    print(f"{at} samples read back, {wrong} wrong")
    rows = session.telemetry
    print(f"{len(rows.index)} readings of {readings.given}")
    late_s = rows["time_s"].to_numpy() - np.arange(len(rows.index)) / READINGS_PER_S
    print(f"time of the readings: off by {1e3 * np.abs(late_s).max():.2f} ms at most")
    print(f"{len(session.metadata.trouble)} troubles noted")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("hours", type=float, nargs="?", default=8.0)
    parser.add_argument("--scratch", type=Path, help="where to put the sound for the time")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="hours", dir=wanted.scratch) as folder:
        out = Path(folder) / "drive"
        _, readings = record(wanted.hours, out)
        check(read_session(out), wanted.hours, readings)


if __name__ == "__main__":
    main()
