"""What a long recording costs: python -m tests.benchmarks.record_hours [--minutes 60].

Everything is real but the car: PulseAudio with a sound card that hears noise, PortAudio, python-OBD
on a pseudo-terminal whose adapter answers after 20 ms, and ``pipenote record`` as a process of its
own, with its live screen on another pseudo-terminal. Linux only: it reads /proc.
"""
# SPDX-License-Identifier: GPL-2.0-or-later

from __future__ import annotations

import argparse
import json
import math
import os
import pty
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.live.faults import MICROPHONE
from tests.live.recording import ROOT
from tests.live.sound_card import SoundCard
from tests.live.sound_server import SoundServer
from tests.logger.sources.talkers import PtyAdapter

RATE_HZ = 48_000
ANSWER_S = 0.02
_SETTLED_S = 15.0
_STARTED_WITHIN_S = 60.0
_ENDED_WITHIN_S = 60.0
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, slots=True, kw_only=True)
class Usage:
    """What a process has used since it began."""

    at_s: float
    cpu_s: float
    memory_mb: float
    peak_mb: float


def usage_of(process_id: int) -> Usage:
    """Read it from /proc."""
    stat = Path(f"/proc/{process_id}/stat").read_text().rsplit(")", 1)[1].split()
    status = Path(f"/proc/{process_id}/status").read_text().splitlines()
    kilobytes = {line.split(":")[0]: line.split()[1] for line in status if line.startswith("Vm")}
    return Usage(
        at_s=time.monotonic(),
        cpu_s=(int(stat[11]) + int(stat[12])) / _TICKS_PER_S,
        memory_mb=int(kilobytes["VmRSS"]) / 1024.0,
        peak_mb=int(kilobytes["VmHWM"]) / 1024.0,
    )


def rpm_at(now_s: float) -> float:
    """A drive that goes up and down for ever."""
    return 2200.0 + 1000.0 * math.sin(2.0 * math.pi * now_s / 50.0)


def record_for(minutes: float, folder: Path, *, plain: bool) -> None:
    """Record and print a line a minute."""
    out = folder / "drive"
    with (
        SoundServer(folder, {MICROPHONE: MICROPHONE}) as server,
        SoundCard(server, MICROPHONE, RATE_HZ),
        PtyAdapter(rpm_at=rpm_at, latency_s=ANSWER_S) as adapter,
    ):
        command = [sys.executable, "-m", "pipenote", "record", "--out", str(out)]
        command += ["--microphone", MICROPHONE, "--channels", "1", "--cylinders", "6"]
        command += ["--rpm", f"obd:{adapter.path}", *(["--plain"] if plain else [])]
        ours, theirs = pty.openpty()
        reader = threading.Thread(target=_read_away, args=(ours,), daemon=True)
        reader.start()
        with (folder / "said").open("wb") as said:
            process = subprocess.Popen(
                command,
                cwd=ROOT,
                env=server.environment
                | {"COLUMNS": "120", "LINES": "30", "TERM": "xterm-256color"},
                stdin=theirs,
                stdout=said,
                stderr=theirs,
            )
        os.close(theirs)
        try:
            first, last = _watch(process, out, minutes)
            process.send_signal(signal.SIGINT)
            end = time.monotonic()
            process.wait(_ENDED_WITHIN_S)
            print(f"saved within {time.monotonic() - end:.1f} s of Ctrl-C")
        finally:
            process.kill()
            process.wait(_ENDED_WITHIN_S)
    _tell(out, first, last)
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    print(f"largest memory of any child, saving included: {children.ru_maxrss / 1024.0:.0f} MB")


def _read_away(terminal: int) -> None:
    """Take what the screen draws, as a terminal does."""
    try:
        while os.read(terminal, 65_536):
            pass
    except OSError:  # the other end is closed
        return


def _watch(process: subprocess.Popen[bytes], out: Path, minutes: float) -> tuple[Usage, Usage]:
    end_s = time.monotonic() + _STARTED_WITHIN_S
    never = threading.Event()
    while not (out / "telemetry.csv").exists():
        if process.poll() is not None or time.monotonic() > end_s:
            raise SystemExit("the recording did not begin")
        never.wait(0.2)
    never.wait(_SETTLED_S)
    first = before = usage_of(process.pid)
    print(f"started: {first.cpu_s:.1f} s of processor, {first.memory_mb:.0f} MB", flush=True)
    while (left_s := first.at_s + 60.0 * minutes - time.monotonic()) > 0.0:
        never.wait(min(60.0, left_s))
        now = usage_of(process.pid)
        share = (now.cpu_s - before.cpu_s) / (now.at_s - before.at_s)
        print(
            f"{(now.at_s - first.at_s) / 60.0:6.1f} min: {share:6.2%} of a core, "
            f"{now.memory_mb:6.1f} MB, peak {now.peak_mb:6.1f} MB",
            flush=True,
        )
        before = now
    return first, before


def _tell(out: Path, first: Usage, last: Usage) -> None:
    document: dict[str, Any] = json.loads((out / "session.json").read_text("utf-8"))
    with (out / "telemetry.csv").open(encoding="utf-8") as rows:
        names = next(rows).rstrip("\n").split(",")
        at = names.index("rpm")
        values = [row.split(",")[at] for row in rows]
    seconds = last.at_s - first.at_s
    print(
        f"after {_SETTLED_S:.0f} s of start: {(last.cpu_s - first.cpu_s) / seconds:.2%} of "
        f"a core over {seconds / 60.0:.1f} min; with the start {last.cpu_s:.1f} s; peak "
        f"{last.peak_mb:.0f} MB"
    )
    rpm = sum(value != "" for value in values)
    lost_s = sum(gap["duration_s"] for gap in document["sound_gaps"])
    print(f"{len(values)} readings, {rpm} of rpm ({rpm / len(values):.0%}); {lost_s:.3f} s lost")
    print(f"trouble: {[each['code'] for each in document['trouble']]}")
    print(f"clock of the sound: {document['sound_clock']}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--plain", action="store_true", help="lines in place of the live screen")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="hour") as folder:
        record_for(wanted.minutes, Path(folder), plain=wanted.plain)


if __name__ == "__main__":
    main()
