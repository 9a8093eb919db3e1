"""How fast ``find`` is on long drives, and how much memory it takes.

    python -m tests.benchmarks.find_speed [hours ...]

Writes sessions of 48 kHz mono 16-bit sound into a temporary folder (0.35 GB an hour), runs
``pipenote find`` on each in a process of its own that is held to one core and one thread, and
prints how many times faster than real time it was, with the peak memory of that process. Then it
sets ``find`` without the start of Python and its libraries against a floor: reading the same file
once and one windowed real FFT over it, frame by frame, in memory that is used again. All times are
of the processor, so that other work on the machine counts little.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile
from scipy.fft import rfft

from analysis.find.drone import find_drone
from logger.session import read_session
from tests.drives import generate, random_spec

_RATE_HZ = 48_000
_FFT_SIZE = 4096
_FRAMES_AT_ONCE = 8
_READS = 12


def long_session(folder: Path, hours: float) -> Path:
    """A session made of one drive over and over, up to the length asked for."""
    spec = random_spec(np.random.default_rng(7), bands=1, engine="6", sample_rate_hz=_RATE_HZ)
    drive = generate(spec, 7)
    seconds = drive.samples.size / _RATE_HZ
    repeats = int(np.ceil(3600.0 * hours / seconds))
    folder.mkdir()
    with soundfile.SoundFile(
        folder / "audio.wav", "w", samplerate=_RATE_HZ, channels=1, subtype="PCM_16"
    ) as file:
        for _ in range(repeats):
            file.write(drive.samples)
    parts = [
        drive.telemetry.assign(time_s=drive.telemetry["time_s"] + index * seconds)
        for index in range(repeats)
    ]
    rows = pd.concat(parts, ignore_index=True)
    rows = rows[rows["time_s"].diff().fillna(1.0) > 0]
    rows.to_csv(folder / "telemetry.csv", index=False)
    (folder / "session.json").write_text(
        '{"format_version": 1, "name": "long drive", "cylinders": 6}', encoding="utf-8"
    )
    return folder


def floor(session: Path) -> None:
    """Read the sound once and transform every frame of it: the least that any ``find`` must do."""
    window = np.hanning(_FFT_SIZE).astype(np.float32)
    # few frames at a time, and long reads: the fastest of the ways tried, so the hardest to meet
    frames = np.empty((_FRAMES_AT_ONCE, _FFT_SIZE), dtype=np.float32)
    block = np.empty(_READS * frames.size, dtype=np.float32)
    with soundfile.SoundFile(session / "audio.wav") as file:
        while len(file.read(out=block)) == block.size:
            for part in block.reshape(-1, *frames.shape):
                np.multiply(part, window, out=frames)
                rfft(frames)


def find(session: Path) -> None:
    """Find the drone, and nothing else."""
    find_drone(read_session(session).drive())


def main() -> None:
    """Measure and print two lines for each length."""
    alone = {each.__name__: each for each in (floor, find)}
    if sys.argv[1:2] and sys.argv[1] in alone:
        started_s = time.process_time()
        alone[sys.argv[1]](Path(sys.argv[2]))
        print(time.process_time() - started_s)
        return
    hours = [float(word) for word in sys.argv[1:]] or [1.0 / 6.0, 1.0]
    with tempfile.TemporaryDirectory() as name:
        for length in hours:
            session = long_session(Path(name) / f"hours-{length:.2f}", length)
            seconds = soundfile.info(session / "audio.wav").duration
            whole_s, memory_mb, _ = _measured("pipenote", "find", str(session), "--json")
            find_s, floor_s = (
                float(_measured("tests.benchmarks.find_speed", word, str(session))[2])
                for word in ("find", "floor")
            )
            print(
                f"{seconds / 3600:.2f} h of sound: {whole_s:.1f} s, {seconds / whole_s:.0f} times "
                f"faster than real time, peak memory {memory_mb:.0f} MB\n"
                f"    find alone {find_s:.2f} s, {find_s / floor_s:.2f} times the floor of "
                f"{floor_s:.2f} s"
            )


def _measured(*words: str) -> tuple[float, float, str]:
    """Processor seconds, peak memory (MB) and output of one module, held to one core."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", *words],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        preexec_fn=_one_core if hasattr(os, "sched_setaffinity") else None,
    )
    assert process.stdout is not None
    with process.stdout as stream:
        said = stream.read()
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{' '.join(words)} failed")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, said


def _one_core() -> None:
    os.sched_setaffinity(0, {0})


if __name__ == "__main__":
    main()
