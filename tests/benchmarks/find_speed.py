"""How fast ``find`` is on long drives, and how much memory it takes.

    python -m tests.benchmarks.find_speed [hours ...]

Writes sessions of 48 kHz mono 16-bit sound into a temporary folder (0.35 GB an hour), runs
``pipenote find`` on each in a process of its own that is held to one core, and prints how many
times faster than real time it was, with the peak memory of that process, and how that compares
with merely reading the same file and running one real FFT pass over it. All times are of the
processor, so that other work on the machine does not count.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile

from logger.session import read_session
from tests.drives import generate, random_spec

_RATE_HZ = 48_000
_FFT_SIZE = 8192


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


def read_and_transform(session: Path) -> None:
    """Merely read the sound and run one real FFT over all of it: what ``find`` is measured by."""
    sound = read_session(session).drive().sound
    assert sound is not None
    for block in sound.read_blocks():
        whole = block.size // _FFT_SIZE * _FFT_SIZE
        np.fft.rfft(block[:whole].reshape(-1, _FFT_SIZE))


def main() -> None:
    """Measure and print two lines for each length."""
    if sys.argv[1:2] == ["--read"]:
        read_and_transform(Path(sys.argv[2]))
        return
    hours = [float(word) for word in sys.argv[1:]] or [1.0 / 6.0, 1.0]
    with tempfile.TemporaryDirectory() as name:
        for length in hours:
            session = long_session(Path(name) / f"hours-{length:.2f}", length)
            sound = read_session(session).drive().sound
            assert sound is not None
            seconds = sound.duration_s
            find, memory_mb = _measured("pipenote", "find", str(session), "--json")
            read, _ = _measured("tests.benchmarks.find_speed", "--read", str(session))
            start, _ = _measured("tests.benchmarks.find_speed", "--read", str(_short(session)))
            print(
                f"{seconds / 3600:.2f} h of sound: {find:.1f} s, {seconds / find:.0f} times faster "
                f"than real time, peak memory {memory_mb:.0f} MB\n"
                f"    reading it and one FFT pass {read - start:.1f} s (without {start:.1f} s of "
                f"start): ratio {(find - start) / (read - start):.1f}"
            )


def _short(session: Path) -> Path:
    """A second of sound, to see what starting Python and its libraries costs."""
    short = session.with_name(f"{session.name}-short")
    short.mkdir()
    soundfile.write(short / "audio.wav", np.zeros(_RATE_HZ, dtype=np.float32), _RATE_HZ)
    (short / "session.json").write_text('{"format_version": 1}', encoding="utf-8")
    return short


def _measured(*words: str) -> tuple[float, float]:
    """Processor seconds and peak memory (MB) of one module, held to one core."""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", *words],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        preexec_fn=_one_core if hasattr(os, "sched_setaffinity") else None,
    )
    _, status, usage = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{' '.join(words)} failed")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def _one_core() -> None:
    os.sched_setaffinity(0, {0})


if __name__ == "__main__":
    main()
